// The working screens and their addresses.
import type { ComponentType } from "preact";
import { Card } from "../screens/card.tsx";
import { CardContact } from "../screens/card-contact.tsx";
import { CardHair } from "../screens/card-hair.tsx";
import { CardHistory } from "../screens/card-history.tsx";
import { CardQuestions, VisitQuestions } from "../screens/card-questions.tsx";
import { CardSensitivities } from "../screens/card-sensitivities.tsx";
import { CardTests } from "../screens/card-tests.tsx";
import { Clients, NewClient } from "../screens/clients.tsx";
import { CloseDay } from "../screens/close.tsx";
import { Compare } from "../screens/compare.tsx";
import { NewProduct, ProductScreen } from "../screens/product.tsx";
import { Settle } from "../screens/settle.tsx";
import { Shelf } from "../screens/shelf.tsx";
import { Visit } from "../screens/visit.tsx";
import { AfterColour } from "../screens/visit-after.tsx";
import { Bowls } from "../screens/visit-bowls.tsx";
import { Brief } from "../screens/visit-brief.tsx";
import { CheckStrand } from "../screens/visit-check.tsx";
import { EditFormula } from "../screens/visit-formula.tsx";
import { Formulas } from "../screens/visit-formulas.tsx";
import { ProposeGloss } from "../screens/visit-gloss.tsx";
import { MixBowl, SmallBowls } from "../screens/visit-mix.tsx";
import { Paint } from "../screens/visit-paint.tsx";
import { Photos } from "../screens/visit-photos.tsx";
import { Plan } from "../screens/visit-plan.tsx";
import { Result } from "../screens/visit-result.tsx";
import { RinseScreen } from "../screens/visit-rinse.tsx";
import { Sections } from "../screens/visit-sections.tsx";
import { SignOff } from "../screens/visit-sign.tsx";
import { Timeline } from "../screens/visit-timeline.tsx";

export const work: readonly [pattern: string, screen: ComponentType<any>][] = [
  ["/clients", Clients],
  ["/clients/new/:words", NewClient],
  ["/client/:id", Card],
  ["/client/:id/hair", CardHair],
  ["/client/:id/sensitivities", CardSensitivities],
  ["/client/:id/tests", CardTests],
  ["/client/:id/questions", CardQuestions],
  ["/client/:id/history", CardHistory],
  ["/client/:id/contact", CardContact],
  ["/compare/:first/:second", Compare],
  ["/visit/:id", Visit],
  ["/visit/:id/plan", Plan],
  ["/visit/:id/questions", VisitQuestions],
  ["/visit/:id/sections", Sections],
  ["/visit/:id/formulas", Formulas],
  ["/visit/:id/formula", EditFormula],
  ["/visit/:id/formula/:formula", EditFormula],
  ["/visit/:id/bowls", Bowls],
  ["/visit/:id/gloss", ProposeGloss],
  ["/visit/:id/mix", MixBowl],
  ["/visit/:id/small-bowls", SmallBowls],
  ["/visit/:id/paint", Paint],
  ["/visit/:id/rinse", RinseScreen],
  ["/visit/:id/check", CheckStrand],
  ["/visit/:id/result", Result],
  ["/visit/:id/after", AfterColour],
  ["/visit/:id/brief", Brief],
  ["/visit/:id/sign", SignOff],
  ["/visit/:id/photos", Photos],
  ["/visit/:id/timeline", Timeline],
  ["/settle", Settle],
  ["/settle/:doc", Settle],
  ["/close", CloseDay],
  ["/close/:day", CloseDay],
  ["/shelf", Shelf],
  ["/shelf/new", NewProduct],
  ["/shelf/:id", ProductScreen],
];

package tailcomb.test

import kotlin.time.Duration.Companion.minutes
import kotlinx.coroutines.flow.first
import kotlinx.coroutines.runBlocking
import org.junit.jupiter.api.Assertions.assertEquals
import org.junit.jupiter.api.Assertions.assertTrue
import org.junit.jupiter.api.Test
import org.junit.jupiter.api.assertThrows
import tailcomb.Tailcomb
import tailcomb.core.Agreement
import tailcomb.core.BowlWish
import tailcomb.core.DocId
import tailcomb.core.Formula
import tailcomb.core.HostException
import tailcomb.core.Moment
import tailcomb.core.NewLine
import tailcomb.core.NewVisit
import tailcomb.core.PaintTimer
import tailcomb.core.Product
import tailcomb.core.Goods
import tailcomb.core.Role
import tailcomb.core.Section
import tailcomb.core.Station
import tailcomb.core.TimerState
import tailcomb.core.Topic
import tailcomb.trade.Amount
import tailcomb.floors
import tailcomb.trade.Share
import tailcomb.trade.grams
import tailcomb.trade.volumes

/** Two stations of this library and a terminal station live through a day at one relay. */
class DayTest {
    @Test
    fun `two Kotlin stations and a terminal end the day with the same record`() = inHouse { house ->
        val relay = house.relay()
        val desk = house.device()
        val basin = house.device()
        val terminal = house.terminal()

        // A salon, its people, its stations.
        val first = house.salon(desk, relay.url)
        first.addPerson("Teodor", Role.STYLIST)
        first.addPerson("Mara", Role.STYLIST)
        val second = basin.join(desk.invite(), "basin")
        desk.exchange(10_000u)
        basin.exchange(10_000u)
        second.signInAs("Teodor")
        terminal.does("join", desk.invite(), "--station", "terminal", "--as", "Mara")

        // A client, a visit, a formula and a bowl; what stands against colour is said before it is painted.
        val client = first.newClient("Rosa Vale", emptyList())
        val visit = first.openVisit(NewVisit(client, "regrowth", null, null, true))
        val note = Formula("regrowth", "1:1.5", 20.volumes, 35.minutes, 30.minutes, "")
        val shade = first.addProduct(shade("copper 7"), null)
        val cream = first.addProduct(developer("cream 20 vol"), null)
        val lines = listOf(
            NewLine(shade, null, "", Share.Grams(24.grams), null),
            NewLine(cream, null, "", Share.Grams(36.grams), null),
        )
        val formula = first.noteFormula(visit, note, lines).formula
        val wish = BowlWish(formula, Amount.Total(60.grams), null, "roots")
        val bowl = first.mixNow(visit, wish)
        assertEquals(60.grams, bowl.total)
        assertEquals(listOf(24.grams, 36.grams), bowl.contents.parts.map { it.amount })
        val roots = first.mapSections(visit, listOf(Section("roots", "", "", "", "", 1, false, null)))
        suspend fun paint() = first.paint(visit, roots, bowl.bowl, null, PaintTimer.Without)
        val stop = assertThrows<HostException.Refused> { runBlocking { paint() } }
        assertEquals("stopped", stop.code)
        first.overrideStop(visit, "tested at her doctor's this week, letter seen")
        paint()

        // The second station takes the client over and sees what it must.
        eventually("the visit at the basin") { second.floor().visits.any { it.visit == visit } }
        desk.exchange(10_000u)
        val briefing = second.take(visit)
        assertEquals("Rosa Vale", briefing.clientName)
        assertTrue(briefing.brief.bowls.isNotEmpty())
        eventually("the take-over at the desk") { holders(first, visit) == listOf("Teodor") }

        // A timer that rings; the terminal silences it everywhere.
        val now = second.now().ms
        val gone = plain("towel", 10).copy(from = Moment(now - 11 * 60_000, null))
        val towel = second.startTimer(visit, gone).at
        eventually("the alarm at the desk") { state(first, "towel") == TimerState.RINGING }
        terminal.does("sync")
        terminal.does("timer", "silence")
        eventually("silence at the basin") { state(second, "towel") == TimerState.SILENCED }
        second.stopTimer(towel)

        // Extended at two stations that do not hear each other: a question, the earlier alarm until it is settled.
        val gloss = second.startTimer(visit, plain("gloss", 20))
        eventually("the gloss at the desk") { state(first, "gloss") != null }
        relay.kill()
        val here = first.extendTimer(gloss.at, 5.minutes)
        val there = second.extendTimer(gloss.at, 10.minutes)
        assertTrue(here.dueMs!! < there.dueMs!!)
        relay.again()
        for (station in listOf(first, second)) {
            eventually("the question") { station.questions().isNotEmpty() }
            assertEquals(here.dueMs, station.floor().timers.single { it.label.text == "gloss" }.dueMs)
        }
        val asked = first.questions().single()
        first.settle(asked.doc, asked.id, asked.choices.single { it.by == second.signedIn() }.id)
        eventually("the answer at the basin") { second.questions().isEmpty() }
        assertEquals(there.dueMs, second.floor().timers.single { it.label.text == "gloss" }.dueMs)
        second.stopTimer(gloss.at)

        // The end: everything comes together, each states what it holds, and the day closes on it.
        second.rinse(visit, null)
        second.useUpBowl(visit, bowl.bowl)
        second.addNote(visit, Topic.HOME_CARE, "cool water for two days")
        second.closeVisit(visit)
        val today = second.today()
        together(desk, basin, terminal)
        first.stateClosing(today)
        second.stateClosing(today)
        terminal.does("day", "state")
        together(desk, basin, terminal)
        val proof = first.closeDay(today, emptyList())
        assertTrue(proof.closed && proof.agreement is Agreement.Same && proof.stations.size == 3) { "$proof" }
        together(desk, basin, terminal)
        assertTrue(basin.floors().first { it.dayClosed }.timers.isEmpty())
    }

    /** All have sent and read everything, and hold the same. */
    private suspend fun together(desk: Tailcomb, basin: Tailcomb, terminal: Terminal) {
        eventually("the same record at all") {
            val met = listOf(desk, basin).map { it.exchange(10_000u) }
            terminal.does("sync")
            val digests = listOf(desk, basin).map { it.station()!!.digest().digest } + terminal.does("status").word("digest")
            met.all { it.unsent == 0uL && it.caughtUp } && digests.toSet().size == 1
        }
    }

    private suspend fun state(station: Station, label: String) =
        station.floor().timers.find { it.label.text == label }?.state

    private suspend fun holders(station: Station, visit: DocId) =
        station.floor().visits.single { it.visit == visit }.holders.map { it.person.name }

    private fun shade(name: String) =
        Product("Fernglow", name, Goods.Shade(70u, "copper"), listOf("1:1.5"), 30.minutes, 35.minutes)

    private fun developer(name: String) =
        Product("Fernglow", name, Goods.Developer(20.volumes), emptyList(), null, null)
}

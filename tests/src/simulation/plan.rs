//! What a seed has in store: when people act, and what goes wrong when. Days differ in kind, not only in numbers: most
//! troubles are absent from most days, so that what remains is not drowned.

use super::Failure;
use super::floor::{Event, Floor, MORNING_MS};
use super::relay::{Back, Death};
use super::trouble::Trouble;

const MINUTE: i64 = 60_000;

impl Floor {
    /// Plans the day; says when it ends.
    pub(super) fn plan_day(&mut self) -> Result<i64, Failure> {
        let start = self.now().max(MORNING_MS);
        let end = start + self.plan.between(180, 600) * MINUTE;
        let phones = self.phones.len();
        let weather = self.weather;
        self.tell(format_args!("{phones} stations for {} min, {weather:?}", (end - start) / MINUTE));
        let bursts = 4 + self.plan.below(8);
        for _ in 0..bursts {
            let mut at = self.plan.between(start, end);
            for _ in 0..=self.plan.below(5) {
                at += self.plan.between(0, 20_000);
                let who = self.plan.index(phones);
                self.at(at, Event::Work(who));
            }
        }
        for who in 0..phones {
            if self.plan.per_mille(300) {
                let at = self.plan.between(start, end);
                let long = self.plan.per_mille(500);
                let for_ms =
                    self.plan.between(if long { 120 } else { 3 }, if long { 300 } else { 60 }) * MINUTE;
                self.at(at, Event::Strike(Trouble::OutOfReach { phone: who, for_ms }));
                for _ in 0..=self.plan.below(3) {
                    let acts = at + self.plan.between(1, for_ms);
                    self.at(acts, Event::Work(who));
                }
            }
        }
        self.plan_stations(start, end, phones);
        self.plan_relay(start, end);
        Ok(end)
    }

    fn strike_at(&mut self, from: i64, to: i64, trouble: Trouble) -> i64 {
        let at = self.plan.between(from, to);
        self.at(at, Event::Strike(trouble));
        at
    }

    fn plan_stations(&mut self, start: i64, end: i64, phones: usize) {
        if self.plan.per_mille(350) {
            for _ in 0..=self.plan.below(2) {
                let phone = self.plan.index(phones);
                self.strike_at(start, end, Trouble::Crash { phone });
            }
        }
        if self.plan.per_mille(120) {
            let (phone, for_ms) = (self.plan.index(phones), self.plan.between(1, 40) * MINUTE);
            self.strike_at(start, end, Trouble::Suspended { phone, for_ms });
        }
        if self.plan.per_mille(300) {
            let phone = self.plan.index(phones);
            let copied = self.strike_at(start, end, Trouble::StoreCopied { phone });
            for _ in 0..=self.plan.below(3) {
                let at = self.plan.between(copied, end);
                self.at(at, Event::Work(phone));
            }
            for _ in 0..=self.plan.below(2) {
                let back = self.strike_at(copied, end, Trouble::StorePutBack { phone });
                let at = self.plan.between(back, end);
                self.at(at, Event::Work(phone));
            }
        }
        if self.plan.per_mille(90) {
            let phone = self.plan.index(phones);
            self.strike_at(start, end, Trouble::Lost { phone });
        }
        if self.plan.per_mille(120) {
            let phone = self.plan.index(phones);
            let at = self.strike_at(start, end, Trouble::ShutOut { phone });
            for _ in 0..=self.plan.below(3) {
                let acts = self.plan.between(at, at + 30 * MINUTE);
                self.at(acts, Event::Work(phone));
            }
        }
        if self.plan.per_mille(150) {
            let phone = self.plan.index(phones);
            let by_ms = self.plan.between(-7, 7) * 3_600_000 + self.plan.between(10_000, 100_000);
            self.strike_at(start, end, Trouble::ClockJumps { phone, by_ms });
        }
        if self.plan.per_mille(250) {
            let (phone, for_ms) = (self.plan.index(phones), self.plan.between(2, 50) * MINUTE);
            let at = self.strike_at(start, end, Trouble::DiskFull { phone, for_ms });
            for _ in 0..=self.plan.below(3) {
                let acts = self.plan.between(at, at + for_ms);
                let who = self.plan.index(phones);
                self.at(acts, Event::Work(who));
            }
        }
        if self.plan.per_mille(400) {
            let (phone, for_ms) = (self.plan.index(phones), self.plan.between(3, 90) * MINUTE);
            self.strike_at(start, end, Trouble::ClientErased { phone, for_ms });
        }
        if self.plan.per_mille(100) {
            self.strike_at(start, end, Trouble::NewPhone);
        }
        if self.plan.per_mille(120) {
            for _ in 0..=self.plan.below(2) {
                self.strike_at(start, end, Trouble::BadFrame);
            }
        }
        if self.plan.per_mille(120) {
            let at = self.strike_at(start, end, Trouble::KeepBack);
            if self.plan.per_mille(500) {
                self.strike_at(at, end, Trouble::GiveBack);
            }
        }
    }

    fn plan_relay(&mut self, start: i64, end: i64) {
        if self.plan.per_mille(450) {
            for _ in 0..=self.plan.below(2) {
                self.strike_at(start, end, Trouble::RelayCopied);
            }
            if self.plan.per_mille(900) {
                let from = if self.plan.per_mille(500) { Back::Copy } else { Back::CopyUnderNewEpoch };
                self.strike_at(start, end, Trouble::RelayPutBack { from });
            }
        }
        if self.plan.per_mille(80) {
            self.strike_at(start, end, Trouble::RelayPutBack { from: Back::Blank });
        }
        for death in [Death::BeforeCommit, Death::AfterCommit] {
            if self.plan.per_mille(120) {
                self.strike_at(start, end, Trouble::RelayDies { death });
            }
        }
        if self.plan.per_mille(100) {
            let for_ms = self.plan.between(1, 60) * MINUTE;
            self.strike_at(start, end, Trouble::NoRoom { for_ms });
        }
        if self.plan.per_mille(60) {
            let for_ms = self.plan.between(5_000, 300_000);
            self.strike_at(start, end, Trouble::Crowded { for_ms });
        }
        if self.plan.per_mille(300) {
            self.strike_at(start, end, Trouble::WeatherTurns);
        }
    }
}

//! Power cuts: a salon day of real processes in which the relay or a station is killed (SIGKILL) at random moments,
//! mostly in the middle of a command. Whatever a command had answered must be there afterwards.
//!
//! Every command says something with a mark of its own. The marks of commands that answered go into a ledger kept
//! here, outside; a command that died with its process owes nothing.

mod seat;

use std::path::Path;
use std::time::{Duration, Instant};

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use serde::Serialize;
use serde_json::Value;

use crate::floor::{RelayProcess, Trouble};
use seat::Seat;

/// A new client comes after so many steps.
const STEPS_A_VISIT: usize = 24;
/// Every so many steps a process is killed.
const STEPS_A_KILL: usize = 4;
/// How long anything may take that is waited for.
const PATIENCE: Duration = Duration::from_secs(60);

/// What happened.
#[derive(Debug, Default, Serialize)]
pub struct Report {
    /// Commands that answered.
    pub acknowledged: usize,
    /// Commands that died with their process.
    pub unanswered: usize,
    /// Times the relay was killed.
    pub relay_kills: usize,
    /// Times a station was killed.
    pub station_kills: usize,
    /// Times a kill came while a command was under way at the killed station, or while any was and the relay died.
    pub mid_command: usize,
    /// Acknowledged marks that some station does not hold in the end.
    pub lost: Vec<String>,
    /// Whether all stations ended with the same digest.
    pub agree: bool,
}

struct Said {
    mark: String,
    client: usize,
    /// Whether it stands on the client's card; in the visit otherwise.
    on_card: bool,
    seat: usize,
}

struct Day {
    relay: RelayProcess,
    seats: Vec<Seat>,
    ledger: Vec<Said>,
    rng: ChaCha8Rng,
    report: Report,
    marks: usize,
    clients: usize,
}

/// Plays days until `points` processes were killed, then brings everybody together and looks.
///
/// # Errors
/// Any that is not a loss: losses are in the report.
pub fn play(place: &Path, points: usize, seed: u64) -> Result<Report, Trouble> {
    let relay = RelayProcess::start(&place.join("relay.db"))?;
    let first = Seat::new(place.join("front"), "front")?;
    let salon =
        ["salon", "found", "Alderlight Colour Room", "--zone", "Europe/Lisbon", "--relay", relay.url()];
    let words = place.join("words");
    let words = words.to_str().ok_or("no such path")?;
    let founder =
        ["--person", "Ines Carvalhal", "--role", "trainer", "--station", "front", "--words-to", words];
    first.must(&[salon.as_slice(), founder.as_slice()].concat())?;
    let mut day = Day {
        relay,
        seats: vec![first],
        ledger: Vec::new(),
        rng: ChaCha8Rng::seed_from_u64(seed),
        report: Report::default(),
        marks: 0,
        clients: 0,
    };
    day.join(place.join("basin"), "basin")?;
    for seat in &mut day.seats {
        seat.start()?;
    }
    let mut step = 0;
    while day.report.relay_kills + day.report.station_kills < points {
        if step % STEPS_A_VISIT == 0 {
            day.next_client()?;
        }
        step += 1;
        day.step(step % STEPS_A_KILL == 0)?;
    }
    day.end(place)
}

impl Day {
    fn join(&mut self, home: std::path::PathBuf, name: &str) -> Result<(), Trouble> {
        let host = self.seats.first().ok_or("no first station")?;
        host.must(&["sync"])?;
        let invited = host.must(&["invite"])?;
        let link = invited.get("link").and_then(Value::as_str).ok_or("no link")?;
        let seat = Seat::new(home, name)?;
        seat.must(&["join", link, "--station", name])?;
        seat.must(&["sync"])?;
        seat.must(&["sign-in", "Ines"])?;
        self.seats.push(seat);
        Ok(())
    }

    fn mark(&mut self) -> String {
        self.marks += 1;
        format!("mark{:05}", self.marks)
    }

    /// A card and a visit at a random station; both are done without a kill, so that later steps have a place.
    fn next_client(&mut self) -> Result<(), Trouble> {
        self.clients += 1;
        let name = client_name(self.clients);
        let at = self.rng.random_range(0..self.seats.len());
        let seat = self.seats.get(at).ok_or("no such station")?;
        seat.must(&["client", "new", &name])?;
        seat.must(&["visit", "open", &name])?;
        // The other station must have heard of the client before it can note anything about it.
        let until = Instant::now() + PATIENCE;
        for seat in &self.seats {
            while seat.run(&["visit", "show", &name]).is_err() {
                if Instant::now() > until {
                    return Err(format!("{} has not heard of a new client", seat.name()).into());
                }
                drop(seat.run(&["sync"]));
            }
        }
        Ok(())
    }

    fn step(&mut self, kill: bool) -> Result<(), Trouble> {
        let mark = self.mark();
        let client = self.clients;
        let name = client_name(client);
        let at = self.rng.random_range(0..self.seats.len());
        let kind = self.rng.random_range(0..6_u8);
        let on_card = kind == 3;
        let args: Vec<&str> = match kind {
            0 => vec!["visit", "note", &name, &mark],
            1 => vec!["timer", "start", &mark, "35m", "--visit", &name],
            2 => vec!["section", "add", &name, &mark],
            3 => vec!["client", "sensitivity", &name, &mark, "--severity", "mild"],
            4 => vec!["formula", "note", &name, &mark, "shade:copper 7=30g", "--ratio", "1:1"],
            _ => vec!["visit", "goal", &name, &mark],
        };
        let answered = if kill { self.run_and_kill(at, &args)? } else { self.run(at, &args)? };
        if answered {
            self.report.acknowledged += 1;
            self.ledger.push(Said { mark, client, on_card, seat: at });
        } else {
            self.report.unanswered += 1;
        }
        if kill {
            self.look(at)?;
        }
        Ok(())
    }

    fn run(&self, at: usize, args: &[&str]) -> Result<bool, Trouble> {
        let seat = self.seats.get(at).ok_or("no such station")?;
        seat.must(args).map(|_| true)
    }

    /// Starts the command, kills something after a random while, and says whether the command answered.
    fn run_and_kill(&mut self, at: usize, args: &[&str]) -> Result<bool, Trouble> {
        let relay_dies = self.rng.random_bool(0.4);
        let wait = Duration::from_micros(self.rng.random_range(0..9_000));
        let mut command = self.seats.get(at).ok_or("no such station")?.spawn(args)?;
        // The moment of the cut is the fault being made; nothing is waited for here.
        std::thread::sleep(wait);
        self.report.mid_command += usize::from(command.try_wait()?.is_none());
        if relay_dies {
            self.report.relay_kills += 1;
            self.relay.kill_and_restart()?;
        } else {
            self.report.station_kills += 1;
            self.seats.get_mut(at).ok_or("no such station")?.kill()?;
        }
        let answered = command.wait()?.success();
        if !relay_dies {
            self.seats.get_mut(at).ok_or("no such station")?.start()?;
        }
        Ok(answered)
    }

    /// What the station acknowledged for the present client is there at once, before it meets anybody.
    fn look(&mut self, at: usize) -> Result<(), Trouble> {
        let seat = self.seats.get(at).ok_or("no such station")?;
        let mine = |said: &&Said| said.seat == at && said.client == self.clients;
        let told = told(seat, self.clients)?;
        for said in self.ledger.iter().filter(mine) {
            if !told.contains(&said.mark) {
                self.report.lost.push(format!("{} at {} right after a kill", said.mark, seat.name()));
            }
        }
        Ok(())
    }

    /// Brings everybody together, adds a station that knows only what the relay has, and compares.
    fn end(mut self, place: &Path) -> Result<Report, Trouble> {
        let until = Instant::now() + PATIENCE;
        for seat in &self.seats {
            while !seat.settled()? {
                if Instant::now() > until {
                    return Err(format!("{} does not come to rest", seat.name()).into());
                }
            }
        }
        self.join(place.join("fresh"), "fresh")?;
        for seat in &self.seats {
            while !seat.settled()? {
                if Instant::now() > until {
                    return Err(format!("{} does not come to rest", seat.name()).into());
                }
            }
        }
        // Joining wrote the newcomer's name; everybody reads that before digests are compared.
        for seat in &self.seats {
            seat.must(&["sync"])?;
        }
        let digests: Result<Vec<String>, Trouble> = self.seats.iter().map(Seat::digest).collect();
        let digests = digests?;
        self.report.agree = digests.windows(2).all(|pair| pair.first() == pair.last());
        for seat in &self.seats {
            for client in 1..=self.clients {
                let told = told(seat, client)?;
                for said in self.ledger.iter().filter(|s| s.client == client) {
                    if !told.contains(&said.mark) {
                        let place = if said.on_card { "card" } else { "visit" };
                        self.report.lost.push(format!("{} ({place}) at {}", said.mark, seat.name()));
                    }
                }
            }
        }
        Ok(self.report)
    }
}

fn client_name(n: usize) -> String {
    format!("Client{n:03} Fell")
}

/// Everything a station tells about a client and the client's visit.
fn told(seat: &Seat, client: usize) -> Result<String, Trouble> {
    let name = client_name(client);
    let visit = seat.must(&["history", "visit", &name, "--most", "100000"])?;
    let card = seat.must(&["history", "client", &name, "--most", "100000"])?;
    Ok(format!("{visit} {card}"))
}

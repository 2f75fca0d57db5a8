//! `device watch`: how a furnace stands, every second, and every tick into a log.

use std::path::Path;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, SystemTime, UNIX_EPOCH};

use saggar_core::programme::DIGEST_BYTES;
use saggar_core::wire::{Ask, Follow, Hello, Origin, Status, Tell, Tick};
use serde::Serialize;

use super::desk;
use crate::Error;
use crate::args::device::At;
use crate::link::{Carrier as _, Desk, Failed, What};
use crate::logfile::{Head, Writer};

/// Longest wait before something else is looked at; and that for a device whose clock runs so many
/// times faster than ours, or may: a stand-in. In the longer one it would have lived a quarter of an
/// hour, and talk no more.
const GLANCE: Duration = Duration::from_millis(100);
const GLANCE_FAST: Duration = Duration::from_millis(1);
const FAST: f64 = 5.0;

/// A question this often keeps the device talking.
const KEEP: Duration = Duration::from_secs(10);

/// The same by the device's own clock (ms): a stand-in may live a thousand times faster than we do.
const KEEP_MS: u64 = 10_000;

/// Silence after which it is asked to talk again; the shorter for a fast one.
const SILENCE: Duration = Duration::from_secs(3);
const SILENCE_FAST: Duration = Duration::from_millis(200);

/// Silence after which it is given up.
const GONE: Duration = Duration::from_secs(30);

/// What is written is handed to the system this often.
const FLUSH: Duration = Duration::from_secs(1);

/// What to watch.
#[derive(Clone, Copy, Debug)]
pub struct Watching<'a> {
    /// The device.
    pub at: &'a At,
    /// Log to write.
    pub record: Option<&'a Path>,
    /// End when the firing has ended.
    pub until_end: bool,
}

/// What was watched.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Watched {
    /// Ticks that were recorded.
    pub ticks: u64,
    /// Ticks that the line lost.
    pub lost: u64,
}

/// Something that the device told, kept until there is time for it.
enum Heard {
    Status(Status),
    Origin(u32, Option<[u8; DIGEST_BYTES]>, Vec<u8>),
    Tick(Tick),
}

impl Heard {
    /// The device's time, if it is in it (ms).
    fn at_ms(&self) -> Option<u64> {
        match self {
            Self::Status(status) => Some(status.at_ms),
            Self::Tick(tick) => Some(tick.at_ms),
            Self::Origin(..) => None,
        }
    }

    fn of(tell: &Tell<'_>) -> Option<Self> {
        match tell {
            Tell::Status(status) => Some(Self::Status(*status)),
            Tell::Origin(Origin { number, programme, memory }) => {
                Some(Self::Origin(*number, *programme, memory.to_vec()))
            }
            Tell::Tick(tick) => Some(Self::Tick(*tick)),
            Tell::Hello(_)
            | Tell::Log { .. }
            | Tell::Programme(_)
            | Tell::Furnace(_)
            | Tell::Refused(_) => None,
        }
    }
}

/// The log that is written, and what it knows.
struct Recorder {
    writer: Writer,
    programme: Option<[u8; DIGEST_BYTES]>,
    /// Number of the last tick of the stretch at hand.
    last: Option<u32>,
    /// Number of the last tick that was heard at all.
    heard: Option<u32>,
    watched: Watched,
}

impl Recorder {
    fn begin(path: &Path, desk: &mut Desk) -> Result<Self, Error> {
        let furnace = desk.fetch(What::Furnace)?;
        let Hello { device, version: image, .. } = desk.hello;
        let began_s = SystemTime::now().duration_since(UNIX_EPOCH).map_or(0, |at| at.as_secs());
        let head = Head { device, image, began_s, furnace };
        let writer = Writer::create(path, &head)?;
        Ok(Self {
            writer,
            programme: None,
            last: None,
            heard: None,
            watched: Watched::default(),
        })
    }

    /// Takes an origin; false if another is needed, because the log has not got its programme
    /// and the fetching of it lost ticks.
    fn origin(
        &mut self,
        desk: &mut Desk,
        number: u32,
        programme: Option<[u8; DIGEST_BYTES]>,
        memory: &[u8],
    ) -> Result<bool, Error> {
        if programme.is_some() && programme != self.programme {
            desk.greet()?;
            self.writer.programme(&desk.fetch(What::Programme)?)?;
            self.programme = desk.hello.programme;
            self.last = None;
            return Ok(false);
        }
        self.writer.origin(&Origin { number, programme, memory })?;
        // What went by since the last tick that was heard, while nobody was told of any.
        if let Some(missing) = self.heard.and_then(|heard| number.checked_sub(heard)) {
            self.watched.lost += u64::from(missing);
        }
        self.heard = Some(number);
        self.last = Some(number);
        Ok(true)
    }

    /// Takes a tick; false if some before it were lost, so that another origin is needed.
    fn tick(&mut self, tick: &Tick) -> Result<bool, Error> {
        let Some(last) = self.last else { return Ok(true) };
        self.heard = Some(tick.number);
        let missing = tick.number.wrapping_sub(last).wrapping_sub(1);
        self.writer.tick(tick)?;
        self.watched.ticks += 1;
        if missing == 0 {
            self.last = Some(tick.number);
            return Ok(true);
        }
        // A device that came up anew counts from the beginning: nothing is known to be lost.
        if tick.number > last {
            self.watched.lost += u64::from(missing);
        }
        self.last = None;
        Ok(false)
    }
}

/// Watches until the end, until `stop` is set, or until the line fails. Each time that the device
/// says how it stands, `show` is told.
///
/// # Errors
/// Nobody answers any more, or the log cannot be written. What was recorded so far is whole.
pub fn watch(
    watching: &Watching<'_>,
    stop: &AtomicBool,
    mut show: impl FnMut(&Status) -> Result<(), Error>,
) -> Result<Watched, Error> {
    let mut desk = desk(watching.at)?;
    let mut recorder = match watching.record {
        Some(path) => Some(Recorder::begin(path, &mut desk)?),
        None => None,
    };
    let done = follow(watching, &mut desk, &mut recorder, stop, &mut show);
    // Whatever ended it: what is there is kept, and the device need not talk on.
    let watched = recorder.as_ref().map(|recorder| recorder.watched).unwrap_or_default();
    let flushed = recorder.map_or(Ok(()), |mut recorder| recorder.writer.flush());
    let _ = desk.line.say(&Ask::Follow(Follow::default()));
    done?;
    flushed?;
    Ok(watched)
}

fn follow(
    watching: &Watching<'_>,
    desk: &mut Desk,
    recorder: &mut Option<Recorder>,
    stop: &AtomicBool,
    show: &mut impl FnMut(&Status) -> Result<(), Error>,
) -> Result<(), Error> {
    let ask = Ask::Follow(Follow { ticks: recorder.is_some(), status: true });
    desk.line.say(&ask)?;
    let start = desk.line.now();
    let (mut heard_at, mut asked_at, mut flushed_at) = (start, start, start);
    let mut last = None;
    let mut asked_ms = None;
    let mut speed = Speed::default();
    while !stop.load(Ordering::Relaxed) {
        let mut heard = Vec::new();
        let (glance, silence) =
            if speed.fast() { (GLANCE_FAST, SILENCE_FAST) } else { (GLANCE, SILENCE) };
        desk.line.listen(glance, |tell| heard.extend(Heard::of(tell)))?;
        let now = desk.line.now();
        if !heard.is_empty() {
            heard_at = now;
        }
        let mut again = false;
        let device_ms = heard.iter().filter_map(Heard::at_ms).max();
        speed.take(now, device_ms);
        for one in heard {
            match (one, recorder.as_mut()) {
                (Heard::Status(status), _) => {
                    show(&status)?;
                    again |= came_up_anew(last.as_ref(), &status);
                    if watching.until_end && has_ended(last.as_ref(), &status) {
                        return Ok(());
                    }
                    last = Some(status);
                }
                (Heard::Tick(tick), Some(recorder)) => again |= !recorder.tick(&tick)?,
                (Heard::Origin(number, programme, memory), Some(recorder)) => {
                    again |= !recorder.origin(desk, number, programme, &memory)?;
                }
                (Heard::Tick(_) | Heard::Origin(..), None) => {}
            }
        }
        if now.saturating_sub(heard_at) > GONE {
            return Err(Failed::Silent { noise: 0 }.into());
        }
        let due = is_due(asked_ms, device_ms);
        if due {
            asked_ms = device_ms.or(asked_ms);
        }
        let silent = now.saturating_sub(heard_at.max(asked_at)) > silence;
        if again || silent {
            desk.line.say(&ask)?;
            asked_at = now;
        } else if due || now.saturating_sub(asked_at) > KEEP {
            desk.line.say(&Ask::Status)?;
            asked_at = now;
        }
        if now.saturating_sub(flushed_at) > FLUSH {
            flushed_at = now;
            if let Some(recorder) = recorder {
                recorder.writer.flush()?;
            }
        }
    }
    Ok(())
}

/// By the device's own clock it is time for a question.
fn is_due(asked_ms: Option<u64>, device_ms: Option<u64>) -> bool {
    match (asked_ms, device_ms) {
        (Some(asked), Some(at)) => at.saturating_sub(asked) > KEEP_MS || at < asked,
        (None, _) => true,
        (Some(_), None) => false,
    }
}

/// How fast the device's clock runs.
#[derive(Debug, Default)]
struct Speed {
    since: Option<(Duration, u64)>,
    times: Option<f64>,
}

impl Speed {
    /// Until it is known, it may be.
    fn fast(&self) -> bool {
        self.times.is_none_or(|times| times > FAST)
    }

    fn take(&mut self, now: Duration, device_ms: Option<u64>) {
        let Some(at) = device_ms else { return };
        let (since, from) = *self.since.get_or_insert((now, at));
        let ours = now.saturating_sub(since);
        // A tick of the device is a tenth of a second: from half a second on there is a ratio.
        if ours >= Duration::from_millis(500) {
            let theirs = at.saturating_sub(from) as f64 / 1000.0;
            self.times = Some(theirs / ours.as_secs_f64());
            self.since = Some((now, at));
        }
    }
}

/// The device's time went back.
fn came_up_anew(before: Option<&Status>, now: &Status) -> bool {
    before.is_some_and(|before| now.at_ms < before.at_ms)
}

/// A firing that ran does not run any more.
fn has_ended(before: Option<&Status>, now: &Status) -> bool {
    before.is_some_and(|before| before.step.is_some()) && now.step.is_none()
}

//! Watching a device: how a furnace stands, every second, and every tick into a log. A line that is
//! lost is taken up again; a firing can be ended from here, since nobody else has the port.

mod recorder;

use std::io;
use std::path::Path;
use std::time::Duration;

use saggar_core::programme::DIGEST_BYTES;
use saggar_device::wire::seal::{DEVICE_ID_BYTES, DeviceKey};
use saggar_device::wire::{DeviceStatus, Origin, Tick};

use crate::Error;
use crate::channels::Channels;
use crate::link::{Carrier, Desk, Failed, News, What};
use recorder::Recorder;

pub use recorder::Watched;

/// Wait before the line is taken up again; twice as long each time that it is lost once more within
/// a minute: where one desk at a time is served, another one must get something done meanwhile.
const WAIT: Duration = Duration::from_secs(3);
const DOUBLINGS_MAX: u32 = 4;
const CALM: Duration = Duration::from_secs(60);

/// The user's wish is looked at this often while nothing else happens, and how the furnace stands is
/// shown no more often, whatever a device tells.
const GLANCE: Duration = Duration::from_millis(100);

/// What to watch for.
#[derive(Clone, Copy, Debug)]
pub struct Watching<'a> {
    /// Log to write.
    pub record: Option<&'a Path>,
    /// End when the firing has ended.
    pub until_end: bool,
    /// Give up after this long without the device.
    pub give_up: Duration,
    /// Key of the device, so that a firing can be ended.
    pub key: Option<&'a DeviceKey>,
}

/// What the user wants.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Wish {
    /// Nothing but to go on.
    GoOn,
    /// An end of the watching.
    End,
    /// An end of the firing.
    Stop,
}

/// What there is to show.
#[derive(Clone, Debug)]
pub enum Seen<'a> {
    /// How the furnace stands.
    Standing(&'a DeviceStatus, &'a Channels),
    /// The line is lost, and will be tried for so long.
    Lost(&'a Failed, Duration),
    /// It is back, after so long.
    Back(Duration),
    /// The device came up anew; the number of this boot.
    CameUpAnew(u32),
    /// The device has taken the order to stop.
    Stopped,
    /// It has not, as far as is known.
    NotStopped(&'a Failed),
}

/// What came of it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct End {
    /// What was recorded.
    pub watched: Watched,
    /// Why the last stop that was wanted was not given.
    pub not_stopped: Option<Failed>,
}

/// Watches the device of a desk until the end, until the user wants one, or until it cannot be
/// reached any more. `show` is told what there is to show.
///
/// # Errors
/// Nobody answers any more, the log cannot be written, or the device says what no true one says.
/// What was recorded so far is whole.
pub fn watch<C: Carrier>(
    mut desk: Desk<C>,
    watching: &Watching<'_>,
    wish: impl Fn() -> Wish,
    show: impl FnMut(Seen<'_>) -> io::Result<()>,
) -> Result<End, Error> {
    let (channels, recorder) = match watching.record {
        Some(path) => {
            let furnace = desk.fetch(What::Furnace)?;
            let channels = Channels::of(&furnace);
            (channels, Some(Recorder::begin(path, &desk.hello, furnace)?))
        }
        None => (Channels::at(&mut desk)?, None),
    };
    desk.follow();
    let mut watch = Watch {
        who: (desk.hello.device, desk.hello.furnace),
        boot: desk.hello.boot,
        connected_at: Some(desk.line.now()),
        desk,
        watching,
        recorder,
        channels,
        last: None,
        unshown: false,
        shown_at: Duration::ZERO,
        begun: false,
        losses: 0,
        not_stopped: None,
        wish,
        show,
    };
    let done = watch.run().and_then(|()| watch.show_standing(Duration::ZERO));
    if watch.connected_at.is_some() {
        watch.desk.unfollow();
    }
    // Whatever ended it: what is there is kept.
    let flushed = watch.recorder.as_mut().map_or(Ok(()), Recorder::flush);
    match (done.and(flushed), &watch.recorder) {
        (Ok(()), recorder) => {
            let watched = recorder.as_ref().map(|recorder| recorder.watched);
            Ok(End { watched: watched.unwrap_or_default(), not_stopped: watch.not_stopped })
        }
        (Err(why), Some(recorder)) => Err(recorder.ended(why)),
        (Err(why), None) => Err(why),
    }
}

struct Watch<'a, C, W, S> {
    desk: Desk<C>,
    watching: &'a Watching<'a>,
    recorder: Option<Recorder>,
    channels: Channels,
    /// The device's name and the digest of its furnace, and the number of its boot.
    who: ([u8; DEVICE_ID_BYTES], [u8; DIGEST_BYTES]),
    boot: u32,
    last: Option<DeviceStatus>,
    /// It was not shown yet; and when one was.
    unshown: bool,
    shown_at: Duration,
    /// It has begun to tell, with an origin.
    begun: bool,
    /// Since when there is a line.
    connected_at: Option<Duration>,
    /// Times that it was lost in short order.
    losses: u32,
    not_stopped: Option<Failed>,
    wish: W,
    show: S,
}

impl<C, W, S> Watch<'_, C, W, S>
where
    C: Carrier,
    W: Fn() -> Wish,
    S: FnMut(Seen<'_>) -> io::Result<()>,
{
    fn run(&mut self) -> Result<(), Error> {
        loop {
            let more = match self.round() {
                Err(Error::Device(why)) if why.is_of_the_line() => self.reconnect(why)?,
                other => other?,
            };
            if !more {
                return Ok(());
            }
        }
    }

    /// What the user wants, and what the device has told; false at the end.
    fn round(&mut self) -> Result<bool, Error> {
        match (self.wish)() {
            Wish::GoOn => {}
            Wish::End => return Ok(false),
            Wish::Stop => self.stop()?,
        }
        let batch = self.desk.news()?;
        if let Some(recorder) = &mut self.recorder {
            recorder.at(batch.at)?;
        }
        let mut more = true;
        for news in batch.news {
            match news {
                News::Status(status) => more = self.status(status)?,
                News::Tick(tick) => self.tick(&tick)?,
                News::Origin { number, programme, memory } => {
                    self.origin(&Origin { number, programme, memory: &memory })?;
                }
            }
            if !more {
                break;
            }
        }
        if batch.at.saturating_sub(self.shown_at) >= GLANCE {
            self.show_standing(batch.at)?;
        }
        Ok(more)
    }

    /// Shows how the furnace stands, unless that was shown.
    fn show_standing(&mut self, now: Duration) -> Result<(), Error> {
        match self.last {
            Some(status) if std::mem::take(&mut self.unshown) => {
                self.shown_at = now;
                Ok((self.show)(Seen::Standing(&status, &self.channels))?)
            }
            Some(_) | None => Ok(()),
        }
    }

    fn status(&mut self, status: DeviceStatus) -> Result<bool, Error> {
        let before = self.last.replace(status);
        self.unshown |= before != Some(status);
        let Some(before) = before else { return Ok(true) };
        if status.at_ms < before.at_ms {
            self.meet(true)?;
            self.desk.begin_anew();
        }
        let has_ended = before.step.is_some() && status.step.is_none();
        Ok(!(self.watching.until_end && has_ended))
    }

    fn tick(&mut self, tick: &Tick) -> Result<(), Error> {
        self.channels.take(tick);
        if let Some(recorder) = &mut self.recorder
            && !recorder.tick(tick)?
        {
            self.desk.begin_anew();
        }
        Ok(())
    }

    fn origin(&mut self, origin: &Origin<'_>) -> Result<(), Error> {
        let recorder = self.recorder.as_ref();
        let goes_back = recorder.is_some_and(|recorder| recorder.goes_back(origin.number));
        // It was silent for a while, or told less than there was.
        if std::mem::replace(&mut self.begun, true) {
            self.meet(goes_back)?;
        }
        let Some(recorder) = &mut self.recorder else { return Ok(()) };
        if let Some(digest) = origin.programme.filter(|digest| !recorder.has(digest)) {
            self.desk.greet()?;
            if self.desk.hello.programme != Some(digest) {
                // It has another one by now.
                recorder.interrupt();
                self.desk.begin_anew();
                return Ok(());
            }
            recorder.programme(digest, &self.desk.fetch(What::Programme)?)?;
        }
        recorder.origin(origin)
    }

    /// Ends the firing, with the device followed meanwhile.
    fn stop(&mut self) -> Result<(), Error> {
        let Some(key) = self.watching.key else { return Ok(()) };
        self.not_stopped = self.desk.stop(key).err();
        match &self.not_stopped {
            None => (self.show)(Seen::Stopped)?,
            Some(why) => (self.show)(Seen::NotStopped(why))?,
        }
        Ok(())
    }

    /// Greets, and makes sure that it is the same device. It may have come up anew: one that cannot
    /// count its boots has, if its time or its numbers go back.
    fn meet(&mut self, goes_back: bool) -> Result<(), Error> {
        self.desk.greet()?;
        let hello = &self.desk.hello;
        if self.who != (hello.device, hello.furnace) {
            return Err(Failed::Odd("another device, or another furnace, than before").into());
        }
        if hello.boot != self.boot || hello.boot == 0 && goes_back {
            self.boot = hello.boot;
            if let Some(recorder) = &mut self.recorder {
                recorder.anew();
            }
            (self.show)(Seen::CameUpAnew(self.boot))?;
        }
        Ok(())
    }

    /// Takes the line up again; false if the user wants an end.
    fn reconnect(&mut self, mut why: Failed) -> Result<bool, Error> {
        let since = self.desk.line.now();
        let calm = |at: Duration| since.saturating_sub(at) > CALM;
        self.losses = if self.connected_at.take().is_some_and(calm) { 0 } else { self.losses };
        let wait = WAIT * 2u32.pow(self.losses.min(DOUBLINGS_MAX));
        self.losses += 1;
        (self.show)(Seen::Lost(&why, self.watching.give_up))?;
        if let Some(recorder) = &mut self.recorder {
            recorder.interrupt();
            recorder.flush()?;
        }
        loop {
            self.desk.close();
            if !self.wait(wait)? {
                return Ok(false);
            }
            match self.meet(false) {
                Err(Error::Device(again)) if again.is_of_the_line() => why = again,
                Err(other) => return Err(other),
                Ok(()) => break,
            }
            if self.desk.line.now().saturating_sub(since) >= self.watching.give_up {
                return Err(why.into());
            }
        }
        let now = self.desk.line.now();
        self.connected_at = Some(now);
        (self.show)(Seen::Back(now.saturating_sub(since)))?;
        Ok(true)
    }

    /// Waits for so long, without a line; false if the user wants an end.
    fn wait(&mut self, wait: Duration) -> Result<bool, Error> {
        let until = self.desk.line.now() + wait;
        while self.desk.line.now() < until {
            match (self.wish)() {
                Wish::GoOn => {}
                Wish::End => return Ok(false),
                Wish::Stop => {
                    let why = Failed::Port("there is no line to the device".to_owned());
                    (self.show)(Seen::NotStopped(&why))?;
                    self.not_stopped = Some(why);
                }
            }
            self.desk.line.pause(GLANCE);
        }
        Ok(true)
    }
}

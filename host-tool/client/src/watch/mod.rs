//! Watching a device: how a furnace stands, every second, and every tick into a log. A line that is
//! lost is taken up again; a firing can be ended from here, since nobody else has the port.

mod recorder;

use std::io;
use std::path::Path;
use std::time::Duration;

use saggar_core::programme::DIGEST_BYTES;
use saggar_device::wire::seal::{DEVICE_ID_BYTES, DeviceKey};
use saggar_device::wire::{DeviceStatus, Origin, Tick};

use crate::ClientError;
use crate::channels::Channels;
use crate::link::{Client, DeviceUpdate, FetchTarget, Link, LinkError};
use recorder::Recorder;

pub use recorder::RecordingStats;

/// Wait before the line is taken up again; twice as long each time that it is lost once more within
/// a minute: where one desk at a time is served, another one must get something done meanwhile.
const RECONNECT_WAIT: Duration = Duration::from_secs(3);
const WAIT_DOUBLINGS_MAX: u32 = 4;
const STABLE_CONNECTION: Duration = Duration::from_secs(60);

/// The user's wish is looked at this often while nothing else happens, and how the furnace stands is
/// shown no more often, whatever a device tells.
const POLL_INTERVAL: Duration = Duration::from_millis(100);

/// What to watch for.
#[derive(Clone, Copy, Debug)]
pub struct WatchOptions<'a> {
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
pub enum UserRequest {
    /// Nothing but to go on.
    Continue,
    /// An end of the watching.
    Quit,
    /// An end of the firing.
    StopFiring,
}

/// What there is to show.
#[derive(Clone, Debug)]
pub enum WatchEvent<'a> {
    /// How the furnace stands.
    Status(&'a DeviceStatus, &'a Channels),
    /// The line is lost, and will be tried for so long.
    ConnectionLost(&'a LinkError, Duration),
    /// It is back, after so long.
    Reconnected(Duration),
    /// The device came up anew; the number of this boot.
    Restarted(u32),
    /// The device has taken the order to stop.
    StopAccepted,
    /// It has not, as far as is known.
    StopFailed(&'a LinkError),
}

/// What came of it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct WatchOutcome {
    /// What was recorded.
    pub recorded: RecordingStats,
    /// Why the last stop that was wanted was not given.
    pub stop_error: Option<LinkError>,
}

/// Watches the device of a desk until the end, until the user wants one, or until it cannot be
/// reached any more. `show` is told what there is to show.
///
/// # Errors
/// Nobody answers any more, the log cannot be written, or the device says what no true one says.
/// What was recorded so far is whole.
pub fn watch<C: Link>(
    mut desk: Client<C>,
    watching: &WatchOptions<'_>,
    wish: impl Fn() -> UserRequest,
    show: impl FnMut(WatchEvent<'_>) -> io::Result<()>,
) -> Result<WatchOutcome, ClientError> {
    let (channels, recorder) = match watching.record {
        Some(path) => {
            let furnace = desk.fetch(FetchTarget::Furnace)?;
            let channels = Channels::from_furnace_data(&furnace);
            (channels, Some(Recorder::create(path, &desk.hello, furnace)?))
        }
        None => (Channels::fetch(&mut desk)?, None),
    };
    desk.subscribe();
    let mut watch = WatchSession {
        identity: (desk.hello.device, desk.hello.furnace),
        boot: desk.hello.boot,
        connected_at: Some(desk.link.now()),
        client: desk,
        options: watching,
        recorder,
        channels,
        last: None,
        status_pending: false,
        shown_at: Duration::ZERO,
        has_origin: false,
        losses: 0,
        stop_error: None,
        request: wish,
        show,
    };
    let done = watch.run().and_then(|()| watch.show_status(Duration::ZERO));
    if watch.connected_at.is_some() {
        watch.client.unsubscribe();
    }
    // Whatever ended it: what is there is kept.
    let flushed = watch.recorder.as_mut().map_or(Ok(()), Recorder::flush);
    match (done.and(flushed), &watch.recorder) {
        (Ok(()), recorder) => {
            let watched = recorder.as_ref().map(|recorder| recorder.stats);
            Ok(WatchOutcome {
                recorded: watched.unwrap_or_default(),
                stop_error: watch.stop_error,
            })
        }
        (Err(why), Some(recorder)) => Err(recorder.interrupted(why)),
        (Err(why), None) => Err(why),
    }
}

struct WatchSession<'a, C, W, S> {
    client: Client<C>,
    options: &'a WatchOptions<'a>,
    recorder: Option<Recorder>,
    channels: Channels,
    /// The device's name and the digest of its furnace, and the number of its boot.
    identity: ([u8; DEVICE_ID_BYTES], [u8; DIGEST_BYTES]),
    boot: u32,
    last: Option<DeviceStatus>,
    /// It was not shown yet; and when one was.
    status_pending: bool,
    shown_at: Duration,
    /// It has begun to tell, with an origin.
    has_origin: bool,
    /// Since when there is a line.
    connected_at: Option<Duration>,
    /// Times that it was lost in short order.
    losses: u32,
    stop_error: Option<LinkError>,
    request: W,
    show: S,
}

impl<C, W, S> WatchSession<'_, C, W, S>
where
    C: Link,
    W: Fn() -> UserRequest,
    S: FnMut(WatchEvent<'_>) -> io::Result<()>,
{
    fn run(&mut self) -> Result<(), ClientError> {
        loop {
            let more = match self.poll() {
                Err(ClientError::Device(why)) if why.is_connection_failure() => {
                    self.reconnect(why)?
                }
                other => other?,
            };
            if !more {
                return Ok(());
            }
        }
    }

    /// What the user wants, and what the device has told; false at the end.
    fn poll(&mut self) -> Result<bool, ClientError> {
        match (self.request)() {
            UserRequest::Continue => {}
            UserRequest::Quit => return Ok(false),
            UserRequest::StopFiring => self.stop_firing()?,
        }
        let batch = self.client.next_updates()?;
        if let Some(recorder) = &mut self.recorder {
            recorder.on_time(batch.received_at)?;
        }
        let mut more = true;
        for news in batch.updates {
            match news {
                DeviceUpdate::Status(status) => more = self.on_status(status)?,
                DeviceUpdate::Tick(tick) => self.on_tick(&tick)?,
                DeviceUpdate::Origin { number, programme, memory } => {
                    self.on_origin(&Origin { number, programme, memory: &memory })?;
                }
            }
            if !more {
                break;
            }
        }
        if batch.received_at.saturating_sub(self.shown_at) >= POLL_INTERVAL {
            self.show_status(batch.received_at)?;
        }
        Ok(more)
    }

    /// Shows how the furnace stands, unless that was shown.
    fn show_status(&mut self, now: Duration) -> Result<(), ClientError> {
        match self.last {
            Some(status) if std::mem::take(&mut self.status_pending) => {
                self.shown_at = now;
                Ok((self.show)(WatchEvent::Status(&status, &self.channels))?)
            }
            Some(_) | None => Ok(()),
        }
    }

    fn on_status(&mut self, status: DeviceStatus) -> Result<bool, ClientError> {
        let before = self.last.replace(status);
        self.status_pending |= before != Some(status);
        let Some(before) = before else { return Ok(true) };
        if status.at_ms < before.at_ms {
            self.identify_device(true)?;
            self.client.resync();
        }
        let has_ended = before.step.is_some() && status.step.is_none();
        Ok(!(self.options.until_end && has_ended))
    }

    fn on_tick(&mut self, tick: &Tick) -> Result<(), ClientError> {
        self.channels.update(tick);
        if let Some(recorder) = &mut self.recorder
            && !recorder.write_tick(tick)?
        {
            self.client.resync();
        }
        Ok(())
    }

    fn on_origin(&mut self, origin: &Origin<'_>) -> Result<(), ClientError> {
        let recorder = self.recorder.as_ref();
        let goes_back =
            recorder.is_some_and(|recorder| recorder.precedes_last_tick(origin.number));
        // It was silent for a while, or told less than there was.
        if std::mem::replace(&mut self.has_origin, true) {
            self.identify_device(goes_back)?;
        }
        let Some(recorder) = &mut self.recorder else { return Ok(()) };
        if let Some(digest) = origin.programme.filter(|digest| !recorder.has_programme(digest))
        {
            self.client.greet()?;
            if self.client.hello.programme != Some(digest) {
                // It has another one by now.
                recorder.on_gap();
                self.client.resync();
                return Ok(());
            }
            recorder.programme(digest, &self.client.fetch(FetchTarget::Programme)?)?;
        }
        recorder.write_origin(origin)
    }

    /// Ends the firing, with the device followed meanwhile.
    fn stop_firing(&mut self) -> Result<(), ClientError> {
        let Some(key) = self.options.key else { return Ok(()) };
        self.stop_error = self.client.stop(key).err();
        match &self.stop_error {
            None => (self.show)(WatchEvent::StopAccepted)?,
            Some(why) => (self.show)(WatchEvent::StopFailed(why))?,
        }
        Ok(())
    }

    /// Greets, and makes sure that it is the same device. It may have come up anew: one that cannot
    /// count its boots has, if its time or its numbers go back.
    fn identify_device(&mut self, goes_back: bool) -> Result<(), ClientError> {
        self.client.greet()?;
        let hello = &self.client.hello;
        if self.identity != (hello.device, hello.furnace) {
            return Err(LinkError::InvalidReply(
                "another device, or another furnace, than before",
            )
            .into());
        }
        if hello.boot != self.boot || hello.boot == 0 && goes_back {
            self.boot = hello.boot;
            if let Some(recorder) = &mut self.recorder {
                recorder.on_restart();
            }
            (self.show)(WatchEvent::Restarted(self.boot))?;
        }
        Ok(())
    }

    /// Takes the line up again; false if the user wants an end.
    fn reconnect(&mut self, mut why: LinkError) -> Result<bool, ClientError> {
        let since = self.client.link.now();
        let calm = |at: Duration| since.saturating_sub(at) > STABLE_CONNECTION;
        self.losses = if self.connected_at.take().is_some_and(calm) { 0 } else { self.losses };
        let wait = RECONNECT_WAIT * 2u32.pow(self.losses.min(WAIT_DOUBLINGS_MAX));
        self.losses += 1;
        (self.show)(WatchEvent::ConnectionLost(&why, self.options.give_up))?;
        if let Some(recorder) = &mut self.recorder {
            recorder.on_gap();
            recorder.flush()?;
        }
        loop {
            self.client.close();
            if !self.wait_to_reconnect(wait)? {
                return Ok(false);
            }
            match self.identify_device(false) {
                Err(ClientError::Device(again)) if again.is_connection_failure() => why = again,
                Err(other) => return Err(other),
                Ok(()) => break,
            }
            if self.client.link.now().saturating_sub(since) >= self.options.give_up {
                return Err(why.into());
            }
        }
        let now = self.client.link.now();
        self.connected_at = Some(now);
        (self.show)(WatchEvent::Reconnected(now.saturating_sub(since)))?;
        Ok(true)
    }

    /// Waits for so long, without a line; false if the user wants an end.
    fn wait_to_reconnect(&mut self, wait: Duration) -> Result<bool, ClientError> {
        let until = self.client.link.now() + wait;
        while self.client.link.now() < until {
            match (self.request)() {
                UserRequest::Continue => {}
                UserRequest::Quit => return Ok(false),
                UserRequest::StopFiring => {
                    let why = LinkError::Port("there is no line to the device".to_owned());
                    (self.show)(WatchEvent::StopFailed(&why))?;
                    self.stop_error = Some(why);
                }
            }
            self.client.link.sleep(POLL_INTERVAL);
        }
        Ok(true)
    }
}

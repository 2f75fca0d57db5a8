//! Watching a device: shows its status and records every tick. A lost connection is restored. The
//! user can stop the firing from here, because a serial port has no second client.

mod recorder;

use std::io;
use std::path::Path;
use std::time::Duration;

use saggar_core::programme::DIGEST_BYTES;
use saggar_device::wire::seal::{DEVICE_ID_BYTES, DeviceKey};
use saggar_device::wire::{DeviceStatus, Origin, Tick};

use crate::ClientError;
use crate::channels::Channels;
use crate::firing::FiringTracker;
use crate::link::{Client, DeviceUpdate, FetchTarget, Link, LinkError};
use recorder::Recorder;

pub use recorder::RecordingStats;

/// Wait before reconnecting. It doubles with every loss within [`STABLE_CONNECTION`], so that
/// another client gets its turn where only one is served at a time.
const RECONNECT_WAIT: Duration = Duration::from_secs(3);
const WAIT_DOUBLINGS_MAX: u32 = 4;
const STABLE_CONNECTION: Duration = Duration::from_secs(60);

/// Time between two looks at the user's request, and least time between two statuses shown.
const POLL_INTERVAL: Duration = Duration::from_millis(100);

/// How to watch.
#[derive(Clone, Copy, Debug)]
pub struct WatchOptions<'a> {
    /// Recording to write.
    pub record: Option<&'a Path>,
    /// Stop watching when the firing has ended.
    pub until_end: bool,
    /// Give up after this long without a connection.
    pub give_up: Duration,
    /// Key of the device, to stop the firing.
    pub key: Option<&'a DeviceKey>,
}

/// A request of the user.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum UserRequest {
    /// None: go on watching.
    Continue,
    /// Stop watching.
    Quit,
    /// Stop the firing.
    StopFiring,
    /// A typed line that is no order.
    Unknown(String),
}

/// Something to show to the user.
#[derive(Clone, Debug)]
pub enum WatchEvent<'a> {
    /// The device's status, what its channels read, and where its firing is.
    Status(&'a DeviceStatus, &'a Channels, &'a FiringTracker),
    /// The connection is lost; reconnecting is tried for this long.
    ConnectionLost(&'a LinkError, Duration),
    /// The connection is back, after this time.
    Reconnected(Duration),
    /// The device has restarted; its boot number, 0 if it cannot count.
    Restarted(u32),
    /// The device has accepted the order to stop.
    StopAccepted,
    /// The order to stop failed, or its outcome is unknown.
    StopFailed(&'a LinkError),
    /// There is no connection, so that an order to stop was not sent.
    StopNotSent,
    /// The connection is back, and the firing for which a stop was not sent still runs.
    StopStillWanted,
    /// This line was typed and is no order, so that nothing was sent.
    UnknownOrder(&'a str),
}

/// How the watching ended.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct WatchOutcome {
    /// What was recorded.
    pub recorded: RecordingStats,
    /// Why the user's last order to stop failed.
    pub stop_error: Option<LinkError>,
}

/// Watches a device until the firing or the user ends it, or until the device cannot be reached.
///
/// # Errors
/// No device answers, the recording cannot be written, or the device sends something invalid. The recording
/// is intact up to there.
pub fn watch<L: Link>(
    mut client: Client<L>,
    options: &WatchOptions<'_>,
    request: impl Fn() -> UserRequest,
    show: impl FnMut(WatchEvent<'_>) -> io::Result<()>,
) -> Result<WatchOutcome, ClientError> {
    let (channels, recorder) = match options.record {
        Some(path) => {
            let furnace = client.fetch(FetchTarget::Furnace)?;
            let channels = Channels::from_furnace_data(&furnace);
            (channels, Some(Recorder::create(path, &client.hello, furnace)?))
        }
        None => (Channels::fetch(&mut client)?, None),
    };
    client.subscribe();
    let mut watch = WatchSession {
        identity: (client.hello.device, client.hello.furnace),
        boot: client.hello.boot,
        connected_at: Some(client.link.now()),
        client,
        options,
        recorder,
        channels,
        firing: FiringTracker::default(),
        last: None,
        status_pending: false,
        shown_at: Duration::ZERO,
        has_origin: false,
        losses: 0,
        stop_unsent: false,
        stop_error: None,
        request,
        show,
    };
    let ended = watch.run().and_then(|()| watch.show_status(Duration::ZERO));
    if watch.connected_at.is_some() {
        watch.client.unsubscribe();
    }
    // The recording is kept, whatever ended the watching.
    let flushed = watch.recorder.as_mut().map_or(Ok(()), Recorder::flush);
    match (ended.and(flushed), &watch.recorder) {
        (Ok(()), recorder) => {
            let stats = recorder.as_ref().map(|recorder| recorder.stats);
            Ok(WatchOutcome {
                recorded: stats.unwrap_or_default(),
                stop_error: watch.stop_error,
            })
        }
        (Err(why), Some(recorder)) => Err(recorder.interrupted(why)),
        (Err(why), None) => Err(why),
    }
}

struct WatchSession<'a, L, W, S> {
    client: Client<L>,
    options: &'a WatchOptions<'a>,
    recorder: Option<Recorder>,
    channels: Channels,
    firing: FiringTracker,
    /// The device's name, the digest of its furnace data, and its boot number.
    identity: ([u8; DEVICE_ID_BYTES], [u8; DIGEST_BYTES]),
    boot: u32,
    last: Option<DeviceStatus>,
    /// The last status was not shown yet; and when one was shown.
    status_pending: bool,
    shown_at: Duration,
    /// An origin has arrived.
    has_origin: bool,
    /// When the connection was made; `None` without one.
    connected_at: Option<Duration>,
    /// Number of losses in quick succession.
    losses: u32,
    /// The user ordered a stop that was not sent.
    stop_unsent: bool,
    stop_error: Option<LinkError>,
    request: W,
    show: S,
}

impl<L, W, S> WatchSession<'_, L, W, S>
where
    L: Link,
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

    /// Handles the user's request and the device's updates; false at the end.
    fn poll(&mut self) -> Result<bool, ClientError> {
        match (self.request)() {
            UserRequest::Continue => {}
            UserRequest::Quit => return Ok(false),
            UserRequest::StopFiring => self.stop_firing()?,
            UserRequest::Unknown(line) => (self.show)(WatchEvent::UnknownOrder(&line))?,
        }
        let batch = self.client.next_updates()?;
        if let Some(recorder) = &mut self.recorder {
            recorder.on_time(batch.received_at)?;
        }
        let mut more = true;
        for update in batch.updates {
            match update {
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

    /// Shows the last status, unless it was shown.
    fn show_status(&mut self, now: Duration) -> Result<(), ClientError> {
        match self.last {
            Some(status) if std::mem::take(&mut self.status_pending) => {
                self.shown_at = now;
                Ok((self.show)(WatchEvent::Status(&status, &self.channels, &self.firing))?)
            }
            Some(_) | None => Ok(()),
        }
    }

    fn on_status(&mut self, status: DeviceStatus) -> Result<bool, ClientError> {
        let before = self.last.replace(status);
        self.status_pending |= before != Some(status);
        self.firing.update(&mut self.client, &status)?;
        if std::mem::take(&mut self.stop_unsent) && status.step.is_some() {
            (self.show)(WatchEvent::StopStillWanted)?;
        }
        let Some(before) = before else { return Ok(true) };
        if status.at_ms < before.at_ms {
            self.identify_device(true)?;
            self.client.resync();
        }
        // A power cut does not end a firing: it waits for the operator.
        let runs = |it: &DeviceStatus| it.step.is_some() || it.interrupted.is_some();
        let has_ended = runs(&before) && !runs(&status);
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
        // After the first origin, another one means silence or lost ticks: it may have restarted.
        if std::mem::replace(&mut self.has_origin, true) {
            self.identify_device(goes_back)?;
        }
        let Some(recorder) = &mut self.recorder else { return Ok(()) };
        if let Some(digest) = origin.programme.filter(|digest| !recorder.has_programme(digest))
        {
            self.client.greet()?;
            if self.client.hello.programme != Some(digest) {
                // Another programme is active by now.
                recorder.on_gap();
                self.client.resync();
                return Ok(());
            }
            recorder.programme(digest, &self.client.fetch(FetchTarget::Programme)?)?;
        }
        recorder.write_origin(origin)
    }

    /// Stops the firing. Updates go on meanwhile.
    fn stop_firing(&mut self) -> Result<(), ClientError> {
        let Some(key) = self.options.key else { return Ok(()) };
        self.stop_unsent = false;
        self.stop_error = self.client.stop(key).err();
        match &self.stop_error {
            None => (self.show)(WatchEvent::StopAccepted)?,
            Some(why) => (self.show)(WatchEvent::StopFailed(why))?,
        }
        Ok(())
    }

    /// Says hello, and checks that it is the same device. It has restarted if its boot number is
    /// another one, or if it cannot count boots and its time or tick numbers have gone back.
    fn identify_device(&mut self, goes_back: bool) -> Result<(), ClientError> {
        self.client.greet()?;
        let hello = &self.client.hello;
        if self.identity != (hello.device, hello.furnace) {
            return Err(LinkError::InvalidReply(
                "this is another device, or has other furnace data, than before",
            )
            .into());
        }
        if hello.boot != self.boot || hello.boot == 0 && goes_back {
            self.boot = hello.boot;
            self.firing = FiringTracker::default();
            if let Some(recorder) = &mut self.recorder {
                recorder.on_restart();
            }
            (self.show)(WatchEvent::Restarted(self.boot))?;
        }
        Ok(())
    }

    /// Reconnects; false if the user quits.
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

    /// Waits before the next attempt to reconnect; false if the user quits.
    fn wait_to_reconnect(&mut self, wait: Duration) -> Result<bool, ClientError> {
        let until = self.client.link.now() + wait;
        while self.client.link.now() < until {
            match (self.request)() {
                UserRequest::Continue => {}
                UserRequest::Quit => return Ok(false),
                UserRequest::StopFiring => {
                    (self.show)(WatchEvent::StopNotSent)?;
                    let why = "the stop was not sent: there was no connection";
                    self.stop_error = Some(LinkError::Port(why.to_owned()));
                    self.stop_unsent = true;
                }
                UserRequest::Unknown(line) => (self.show)(WatchEvent::UnknownOrder(&line))?,
            }
            self.client.link.sleep(POLL_INTERVAL);
        }
        Ok(true)
    }
}

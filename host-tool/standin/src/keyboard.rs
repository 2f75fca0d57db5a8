//! Lines typed at the keyboard: buttons, and orders about faults. A few may queue; a stop goes before
//! all of them.

use std::collections::VecDeque;
use std::io::Read;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use crate::presses::Button;
use crate::typed::{FaultOrder, LineError, TypedLine, parse};

/// Presses that may queue after the last wait; more are dropped. Each takes half a second.
const QUEUED_MAX: usize = 4;

/// Other lines that may queue.
const ORDERS_MAX: usize = 32;

/// Longest line, including blanks.
const LINE_BYTES_MAX: usize = 80;

/// Bytes read at once, and the pause after a read with too many presses, so that endless input does
/// not keep a processor busy.
const READ_BYTES: usize = 1 << 16;
const FLOOD_PAUSE: Duration = Duration::from_millis(1);

/// Least time between two reports of a line that means nothing.
const REPORT_INTERVAL: Duration = Duration::from_secs(1);

/// The keyboard.
pub(super) struct Keyboard(Arc<Mutex<PressQueue>>);

#[derive(Default)]
struct PressQueue {
    /// A stop is always the first.
    pending: VecDeque<TypedLine>,
    /// Lines were dropped.
    dropped: bool,
    /// The drop was reported.
    reported: bool,
    /// The last line that means nothing, not reported yet.
    unknown: Option<LineError>,
    /// When such a line was last reported.
    unknown_at: Option<Instant>,
}

impl Keyboard {
    /// Reads lines until the input ends.
    pub(super) fn listen(mut reader: impl Read + Send + 'static) -> Self {
        let queue = Arc::new(Mutex::new(PressQueue::default()));
        let theirs = Arc::clone(&queue);
        std::thread::spawn(move || {
            let mut line = KeyedLine::default();
            let mut buffer = vec![0; READ_BYTES];
            while let Ok(read @ 1..) = reader.read(&mut buffer) {
                let bytes = buffer.get(..read).unwrap_or(&[]);
                let mut all_kept = true;
                for typed in bytes.iter().filter_map(|byte| line.push(*byte)) {
                    all_kept &= lock(&theirs).take(typed);
                }
                if !all_kept {
                    std::thread::sleep(FLOOD_PAUSE);
                }
            }
            // The last line may lack a newline.
            if let Some(typed) = line.push(b'\n') {
                lock(&theirs).take(typed);
            }
        });
        Self(queue)
    }

    /// Takes the next line if it is a press.
    pub(super) fn next_press(&self) -> Option<Button> {
        let mut queue = lock(&self.0);
        let Some(TypedLine::Press(button)) = queue.pending.front().cloned() else {
            return None;
        };
        queue.pending.pop_front();
        Some(button)
    }

    /// Takes the next line if it is an order about faults.
    pub(super) fn next_order(&self) -> Option<FaultOrder> {
        let mut queue = lock(&self.0);
        let Some(TypedLine::Order(order)) = queue.pending.front().cloned() else { return None };
        queue.pending.pop_front();
        Some(order)
    }

    /// Takes the next line if it asks to wait (s).
    pub(super) fn next_wait(&self) -> Option<f64> {
        let mut queue = lock(&self.0);
        let Some(TypedLine::Wait(seconds)) = queue.pending.front().cloned() else {
            return None;
        };
        queue.pending.pop_front();
        Some(seconds)
    }

    /// Takes a stop; false if there is none.
    pub(super) fn take_stop(&self) -> bool {
        let mut queue = lock(&self.0);
        let first = queue.pending.front() == Some(&TypedLine::Press(Button::Stop));
        first && queue.pending.pop_front().is_some()
    }

    /// Drops the queue.
    pub(super) fn clear(&self) {
        lock(&self.0).pending.clear();
    }

    /// Takes the last line that means nothing, at most one a second.
    pub(super) fn take_unknown(&self) -> Option<LineError> {
        let mut queue = lock(&self.0);
        if queue.unknown_at.is_some_and(|at| at.elapsed() < REPORT_INTERVAL) {
            return None;
        }
        let unknown = queue.unknown.take()?;
        queue.unknown_at = Some(Instant::now());
        Some(unknown)
    }

    /// True once if lines were dropped.
    pub(super) fn take_dropped(&self) -> bool {
        let mut queue = lock(&self.0);
        let report = queue.dropped && !queue.reported;
        queue.reported |= report;
        report
    }
}

#[cfg(test)]
impl Keyboard {
    /// Reads all of the input.
    pub(super) fn read_all(reader: impl Read + Send + 'static) -> Self {
        let keys = Self::listen(reader);
        // Waits for the reading thread, which owns the other reference, to end.
        while Arc::strong_count(&keys.0) > 1 {
            std::thread::yield_now();
        }
        keys
    }
}

impl PressQueue {
    /// Takes a line; false if the queue is full.
    fn take(&mut self, typed: Result<TypedLine, LineError>) -> bool {
        match typed {
            Ok(line) => self.push(line),
            Err(error) => {
                self.unknown = Some(error);
                true
            }
        }
    }

    /// Queues a line; false if the queue is full.
    fn push(&mut self, line: TypedLine) -> bool {
        // A stop cancels everything before it.
        if line == TypedLine::Press(Button::Stop) {
            self.pending.clear();
        }
        let is_press = |line: &TypedLine| matches!(line, TypedLine::Press(_));
        let waits = |line: &&TypedLine| matches!(line, TypedLine::Wait(_));
        let since_wait = self.pending.iter().rev().take_while(|line| !waits(line));
        let kept = match is_press(&line) {
            true => since_wait.filter(|line| is_press(line)).count() < QUEUED_MAX,
            false => self.pending.iter().filter(|line| !is_press(line)).count() < ORDERS_MAX,
        };
        if kept {
            self.pending.push_back(line);
        }
        self.dropped |= !kept;
        kept
    }
}

fn lock(queue: &Mutex<PressQueue>) -> MutexGuard<'_, PressQueue> {
    // The queue is valid even if the other thread has panicked.
    queue.lock().unwrap_or_else(PoisonError::into_inner)
}

/// The line being typed. Keeps no more bytes than a line needs.
struct KeyedLine {
    bytes: [u8; LINE_BYTES_MAX],
    length: usize,
}

impl Default for KeyedLine {
    fn default() -> Self {
        Self { bytes: [0; LINE_BYTES_MAX], length: 0 }
    }
}

impl KeyedLine {
    /// Takes a byte; returns what the completed line means, unless it is empty.
    fn push(&mut self, byte: u8) -> Option<Result<TypedLine, LineError>> {
        if byte != b'\n' {
            if let Some(place) = self.bytes.get_mut(self.length) {
                *place = byte;
            }
            self.length = self.length.saturating_add(1);
            return None;
        }
        let length = std::mem::take(&mut self.length);
        let bytes = self.bytes.get(..length.min(LINE_BYTES_MAX)).unwrap_or(&[]);
        let text = String::from_utf8_lossy(bytes);
        let text = text.trim();
        if length > LINE_BYTES_MAX {
            let start: String = text.chars().take(16).collect();
            return Some(Err(LineError::Unknown(saggar_files::sanitized(&start, 16) + "…")));
        }
        (!text.is_empty()).then(|| parse(text))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn all(keys: &Keyboard) -> Vec<Button> {
        std::iter::from_fn(|| keys.next_press()).collect()
    }

    #[test]
    fn lines_that_name_a_button_press_it() {
        let text = b"s\r\n  Confirm \nq\n\xFF\nstart\nsssssssssssssssssssssssss\nc";
        let keys = Keyboard::read_all(&text[..]);
        let wanted = [Button::Start, Button::Confirm, Button::Start, Button::Confirm];
        assert_eq!(all(&keys), wanted);
        assert!(!keys.take_dropped());
    }

    #[test]
    fn a_flood_of_keys_is_cut_to_a_few_presses_and_reported_once() {
        let keys = Keyboard::read_all(std::io::Cursor::new("s\n".repeat(1_000_000)));
        assert_eq!(all(&keys), [Button::Start; QUEUED_MAX]);
        assert!(keys.take_dropped());
        assert!(!keys.take_dropped());
    }

    #[test]
    fn an_endless_line_is_ignored_and_the_next_one_counts() {
        let endless = std::io::repeat(b's').take(5_000_000);
        let keys = Keyboard::read_all(endless.chain(&b"\nc\n"[..]));
        assert_eq!(all(&keys), [Button::Confirm]);
    }

    #[test]
    fn lines_are_taken_in_their_order() {
        let keys = Keyboard::read_all(&b"c\nfaults\nwait 5s\ns\nmend all\n"[..]);
        assert_eq!((keys.next_order(), keys.next_wait()), (None, None));
        assert_eq!(keys.next_press(), Some(Button::Confirm));
        assert_eq!((keys.next_press(), keys.next_wait()), (None, None));
        assert_eq!(keys.next_order(), Some(FaultOrder::List));
        assert_eq!((keys.next_press(), keys.next_order()), (None, None));
        assert_eq!(keys.next_wait(), Some(5.0));
        assert_eq!(keys.next_press(), Some(Button::Start));
        assert_eq!(keys.next_order(), Some(FaultOrder::MendAll));
        let keys = Keyboard::read_all(&b"wait 5s\nfaults\nx\n"[..]);
        assert!(keys.take_stop(), "a stop goes first");
        assert_eq!((keys.next_wait(), keys.next_order()), (None, None));
    }

    #[test]
    fn a_line_that_means_nothing_is_reported_and_not_more_than_once_a_second() {
        let unknown = |line: &str| LineError::Unknown(line.to_owned());
        for (text, wanted) in
            [("z\n", Some("z")), ("x y\n", Some("x y")), ("\n \ns\n", None), ("?", Some("?"))]
        {
            let keys = Keyboard::read_all(text.as_bytes());
            assert_eq!(keys.take_unknown(), wanted.map(unknown), "{text}");
            lock(&keys.0).unknown = Some(unknown("again"));
            assert_eq!(keys.take_unknown().is_none(), wanted.is_some(), "{text}");
        }
        let keys = Keyboard::read_all(std::io::repeat(b's').take(100));
        assert_eq!(keys.take_unknown(), Some(unknown("ssssssssssssssss…")));
    }
}

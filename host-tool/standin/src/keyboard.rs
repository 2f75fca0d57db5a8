//! Buttons typed at the keyboard. A few may queue; a stop goes before all of them.

use std::collections::VecDeque;
use std::io::Read;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use crate::presses::Button;
use saggar_files::sanitized;

/// Presses that may queue; more are dropped. Each takes half a second.
const QUEUED_MAX: usize = 4;

/// Longest line that can name a button, including blanks.
const LINE_BYTES_MAX: usize = 16;

/// Bytes read at once, and the pause after a read with too many presses, so that endless input does
/// not keep a processor busy.
const READ_BYTES: usize = 1 << 16;
const FLOOD_PAUSE: Duration = Duration::from_millis(1);

/// Least time between two reports of a line that names no button.
const REPORT_INTERVAL: Duration = Duration::from_secs(1);

/// The keyboard.
pub(super) struct Keyboard(Arc<Mutex<PressQueue>>);

#[derive(Default)]
struct PressQueue {
    /// A stop is always the first.
    pending: VecDeque<Button>,
    /// Presses were dropped.
    dropped: bool,
    /// The drop was reported.
    reported: bool,
    /// The last line that names no button, not reported yet.
    unknown: Option<String>,
    /// When such a line was last reported.
    unknown_at: Option<Instant>,
}

impl Keyboard {
    /// Reads buttons until the input ends: a name or a letter on each line.
    pub(super) fn listen(mut reader: impl Read + Send + 'static) -> Self {
        let queue = Arc::new(Mutex::new(PressQueue::default()));
        let theirs = Arc::clone(&queue);
        std::thread::spawn(move || {
            let mut line = TypedLine::default();
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

    /// Takes the next press.
    pub(super) fn next(&self) -> Option<Button> {
        lock(&self.0).pending.pop_front()
    }

    /// Takes a stop; false if there is none.
    pub(super) fn take_stop(&self) -> bool {
        let mut queue = lock(&self.0);
        let first = queue.pending.front() == Some(&Button::Stop);
        first && queue.pending.pop_front().is_some()
    }

    /// Drops the queue.
    pub(super) fn clear(&self) {
        lock(&self.0).pending.clear();
    }

    /// Takes the last line that names no button, at most one a second.
    pub(super) fn take_unknown(&self) -> Option<String> {
        let mut queue = lock(&self.0);
        if queue.unknown_at.is_some_and(|at| at.elapsed() < REPORT_INTERVAL) {
            return None;
        }
        let unknown = queue.unknown.take()?;
        queue.unknown_at = Some(Instant::now());
        Some(unknown)
    }

    /// True once if presses were dropped.
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
    /// Takes a line; false if it is a press and the queue is full.
    fn take(&mut self, typed: Result<Button, String>) -> bool {
        match typed {
            Ok(button) => self.push(button),
            Err(line) => {
                if !line.is_empty() {
                    self.unknown = Some(line);
                }
                true
            }
        }
    }

    /// Queues a press; false if the queue is full.
    fn push(&mut self, button: Button) -> bool {
        // A stop cancels every earlier press.
        if button == Button::Stop {
            self.pending.clear();
        }
        let kept = self.pending.len() < QUEUED_MAX;
        if kept {
            self.pending.push_back(button);
        }
        self.dropped |= !kept;
        kept
    }
}

fn lock(queue: &Mutex<PressQueue>) -> MutexGuard<'_, PressQueue> {
    // The queue is valid even if the other thread has panicked.
    queue.lock().unwrap_or_else(PoisonError::into_inner)
}

/// The line being typed. Keeps no more bytes than the name of a button needs.
#[derive(Default)]
struct TypedLine {
    bytes: [u8; LINE_BYTES_MAX],
    length: usize,
}

impl TypedLine {
    /// Takes a byte; returns the button that the completed line names, or else the line, trimmed. One
    /// that is too long ends in "…".
    fn push(&mut self, byte: u8) -> Option<Result<Button, String>> {
        if byte != b'\n' {
            if let Some(place) = self.bytes.get_mut(self.length) {
                *place = byte;
            }
            self.length = self.length.saturating_add(1);
            return None;
        }
        let length = std::mem::take(&mut self.length);
        let is_whole = length <= LINE_BYTES_MAX;
        let bytes = self.bytes.get(..length.min(LINE_BYTES_MAX)).unwrap_or(&[]);
        let text = String::from_utf8_lossy(bytes);
        let text = text.trim();
        let button = text.to_ascii_lowercase().parse().ok().filter(|_| is_whole);
        let rest = if is_whole { "" } else { "…" };
        Some(button.ok_or_else(|| sanitized(text, LINE_BYTES_MAX) + rest))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn all(keys: &Keyboard) -> Vec<Button> {
        std::iter::from_fn(|| keys.next()).collect()
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
    fn a_line_that_names_no_button_is_reported_and_not_more_than_once_a_second() {
        for (text, wanted) in
            [("z\n", Some("z")), ("x y\n", Some("x y")), ("\n \ns\n", None), ("?", Some("?"))]
        {
            let keys = Keyboard::read_all(text.as_bytes());
            assert_eq!(keys.take_unknown().as_deref(), wanted, "{text}");
            lock(&keys.0).unknown = Some("again".to_owned());
            assert_eq!(keys.take_unknown().is_none(), wanted.is_some(), "{text}");
        }
        let keys = Keyboard::read_all(std::io::repeat(b's').take(100));
        assert_eq!(keys.take_unknown().as_deref(), Some("ssssssssssssssss…"));
    }
}

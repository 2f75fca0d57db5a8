//! Buttons typed at the keyboard: a few wait for their turn, and a stop waits for none of them.

use std::collections::VecDeque;
use std::io::Read;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use crate::presses::Button;

/// Presses that may wait; more are dropped. They take half a second each.
const QUEUED_MAX: usize = 4;

/// Longest line that can name a button, blanks included.
const LINE_BYTES_MAX: usize = 16;

/// Bytes that are read at once, and the pause after a read that brought too many presses: whatever
/// writes without end must not keep a processor busy.
const READ_BYTES: usize = 1 << 16;
const FLOOD_PAUSE: Duration = Duration::from_millis(1);

/// The keyboard.
pub(super) struct Keyboard(Arc<Mutex<PressQueue>>);

#[derive(Default)]
struct PressQueue {
    /// A stop is always the first of them.
    waiting: VecDeque<Button>,
    /// Presses were dropped; whether that was said.
    dropped: bool,
    reported: bool,
}

impl Keyboard {
    /// Listens to a reader until it ends: buttons by their names or first letters, a line each.
    pub(super) fn listen(mut reader: impl Read + Send + 'static) -> Self {
        let waiting = Arc::new(Mutex::new(PressQueue::default()));
        let theirs = Arc::clone(&waiting);
        std::thread::spawn(move || {
            let mut line = TypedLine::default();
            let mut room = vec![0; READ_BYTES];
            while let Ok(read @ 1..) = reader.read(&mut room) {
                let bytes = room.get(..read).unwrap_or(&[]);
                let all_kept = bytes.iter().fold(true, |kept, byte| {
                    let press = line.push(*byte);
                    press.is_none_or(|button| lock(&theirs).push(button)) && kept
                });
                if !all_kept {
                    std::thread::sleep(FLOOD_PAUSE);
                }
            }
            // The last line need not have an end.
            if let Some(button) = line.push(b'\n') {
                lock(&theirs).push(button);
            }
        });
        Self(waiting)
    }

    /// The next press.
    pub(super) fn next(&self) -> Option<Button> {
        lock(&self.0).waiting.pop_front()
    }

    /// Whether stop was pressed; it is taken.
    pub(super) fn take_stop(&self) -> bool {
        let mut waiting = lock(&self.0);
        let first = waiting.waiting.front() == Some(&Button::Stop);
        first && waiting.waiting.pop_front().is_some()
    }

    /// Forgets what waits.
    pub(super) fn clear(&self) {
        lock(&self.0).waiting.clear();
    }

    /// True once if presses were dropped.
    pub(super) fn take_dropped(&self) -> bool {
        let mut waiting = lock(&self.0);
        let say = waiting.dropped && !waiting.reported;
        waiting.reported |= say;
        say
    }
}

#[cfg(test)]
impl Keyboard {
    /// Listens to all of a reader.
    pub(super) fn read_all(reader: impl Read + Send + 'static) -> Self {
        let keys = Self::listen(reader);
        // The thread that reads has the other half.
        while Arc::strong_count(&keys.0) > 1 {
            std::thread::yield_now();
        }
        keys
    }
}

impl PressQueue {
    /// Takes a press; false if there are too many.
    fn push(&mut self, button: Button) -> bool {
        // Whoever wants a stop wants nothing of what was pressed before.
        if button == Button::Stop {
            self.waiting.clear();
        }
        let kept = self.waiting.len() < QUEUED_MAX;
        if kept {
            self.waiting.push_back(button);
        }
        self.dropped |= !kept;
        kept
    }
}

fn lock(waiting: &Mutex<PressQueue>) -> MutexGuard<'_, PressQueue> {
    // What a thread that panicked left behind is a list of presses all the same.
    waiting.lock().unwrap_or_else(PoisonError::into_inner)
}

/// The line that is being typed: no more of it is kept than names a button.
#[derive(Default)]
struct TypedLine {
    bytes: [u8; LINE_BYTES_MAX],
    length: usize,
}

impl TypedLine {
    /// Takes a byte; the button that it completes.
    fn push(&mut self, byte: u8) -> Option<Button> {
        if byte != b'\n' {
            if let Some(place) = self.bytes.get_mut(self.length) {
                *place = byte;
            }
            self.length = self.length.saturating_add(1);
            return None;
        }
        let length = std::mem::take(&mut self.length);
        // A line that is too long has no such part.
        let text = std::str::from_utf8(self.bytes.get(..length)?).ok()?;
        text.trim().to_ascii_lowercase().parse().ok()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn all(keys: &Keyboard) -> Vec<Button> {
        std::iter::from_fn(|| keys.next()).collect()
    }

    #[test]
    fn a_line_is_a_button_if_it_names_one() {
        let text = b"s\r\n  Confirm \nq\n\xFF\nstart\nsssssssssssssssssssssssss\nc";
        let keys = Keyboard::read_all(&text[..]);
        let wanted = [Button::Start, Button::Confirm, Button::Start, Button::Confirm];
        assert_eq!(all(&keys), wanted);
        assert!(!keys.take_dropped());
    }

    #[test]
    fn a_flood_of_keys_is_a_few_presses_and_said_once() {
        let keys = Keyboard::read_all(std::io::Cursor::new("s\n".repeat(1_000_000)));
        assert_eq!(all(&keys), [Button::Start; QUEUED_MAX]);
        assert!(keys.take_dropped());
        assert!(!keys.take_dropped());
    }

    #[test]
    fn a_line_without_an_end_is_no_button_and_hides_none() {
        let endless = std::io::repeat(b's').take(5_000_000);
        let keys = Keyboard::read_all(endless.chain(&b"\nc\n"[..]));
        assert_eq!(all(&keys), [Button::Confirm]);
    }
}

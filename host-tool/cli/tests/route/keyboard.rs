//! What is typed at a stand-in: a line without effect is answered, and endless input takes no memory.

use std::io::Write as _;

use crate::bench::Bench;

const MB: usize = 1 << 20;

/// Peak resident memory of a process (bytes).
fn peak_memory(id: u32) -> usize {
    let status = std::fs::read_to_string(format!("/proc/{id}/status")).unwrap();
    let peak = status.lines().find_map(|line| line.strip_prefix("VmHWM:")).unwrap();
    peak.trim().strip_suffix(" kB").unwrap().parse::<usize>().unwrap() * 1024
}

#[test]
fn endless_input_takes_no_memory() {
    let bench = Bench::new();
    let short = bench.short();
    let (mut running, _) = bench.spawn_standin(&short, &["--listen", "tcp:127.0.0.1:0"]);
    let mut keyboard = running.keyboard();
    let before = peak_memory(running.id());
    // One endless line, then endless lines.
    for text in ["s".repeat(MB), format!("\n{}", "c\n".repeat(MB / 2))] {
        for _ in 0..64 {
            keyboard.write_all(text.as_bytes()).unwrap();
        }
        let grown = peak_memory(running.id()) - before;
        assert!(grown < 16 * MB, "it took {grown} bytes more");
    }
    drop(keyboard);
    // The stand-in runs on after the end of its input.
    let messages = running.stop();
    assert_eq!(messages.matches("Lines come faster").count(), 1, "{messages}");
}

#[test]
fn a_line_without_effect_is_answered() {
    let bench = Bench::new();
    let short = bench.short();
    let (mut running, _) = bench.spawn_standin(&short, &["--listen", "tcp:127.0.0.1:0"]);
    let mut keyboard = running.keyboard();
    keyboard.write_all(b"z\nx\n").unwrap();
    std::thread::sleep(std::time::Duration::from_secs(2));
    drop(keyboard);
    let messages = running.stop().replace("\n  ", " ");
    for wanted in [
        "Times in front of events: since the stand-in started",
        "\"z\" is no button. Buttons, each",
        "stop had no effect: no firing is running",
    ] {
        assert!(messages.contains(wanted), "{messages}");
    }
}

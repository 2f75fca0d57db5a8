//! Endless input at a stand-in's keyboard takes no more memory.

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
    assert_eq!(messages.matches("Keys come faster").count(), 1, "{messages}");
}

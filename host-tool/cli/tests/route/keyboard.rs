//! What is typed at a stand-in is bounded, whatever writes it.

use std::io::Write as _;

use crate::bench::Bench;

const MB: usize = 1 << 20;

/// Most memory that a process ever had (bytes).
fn memory(id: u32) -> usize {
    let status = std::fs::read_to_string(format!("/proc/{id}/status")).unwrap();
    let most = status.lines().find_map(|line| line.strip_prefix("VmHWM:")).unwrap();
    most.trim().strip_suffix(" kB").unwrap().parse::<usize>().unwrap() * 1024
}

#[test]
fn endless_input_takes_no_memory() {
    let bench = Bench::new();
    let short = bench.short();
    let (mut running, _) = bench.stands_in(&short, &["--listen", "tcp:127.0.0.1:0"]);
    let mut keyboard = running.keyboard();
    let before = memory(running.id());
    // A line that does not end, and lines that do not.
    for text in ["s".repeat(MB), format!("\n{}", "c\n".repeat(MB / 2))] {
        for _ in 0..64 {
            keyboard.write_all(text.as_bytes()).unwrap();
        }
        let grown = memory(running.id()) - before;
        assert!(grown < 16 * MB, "it took {grown} bytes more");
    }
    drop(keyboard);
    // The end of what is typed ends nothing.
    let told = running.stop();
    assert_eq!(told.matches("Keys come faster").count(), 1, "{told}");
}

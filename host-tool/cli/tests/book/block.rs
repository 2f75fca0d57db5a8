//! Finds the commands and files in a page.

/// The kind of a block.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Kind {
    /// Commands with their output.
    Console,
    /// Commands whose output is not shown.
    Shell,
    /// Commands that must succeed and print nothing.
    Quiet,
    /// A file of this path.
    File(String),
}

/// A command, and what follows it.
#[derive(Debug, Default)]
pub(crate) struct Turn {
    pub(crate) command: String,
    /// Where its output begins, counted from the block's first line.
    pub(crate) line: usize,
    pub(crate) said: Vec<String>,
}

/// A part of a page to run, or to write as a file.
#[derive(Debug)]
pub(crate) struct Block {
    pub(crate) kind: Kind,
    /// Its first line inside the fence or comment, counted from 0.
    pub(crate) first_line: usize,
    pub(crate) turns: Vec<Turn>,
}

/// First words of the lines in `sh` blocks that are run; others build or test the source.
const OURS: [&str; 4] = ["saggar ", "mkdir ", "cp ", "cargo run --release -- "];

/// The blocks of a page, from its top.
pub(crate) fn read(text: &str) -> Vec<Block> {
    let mut blocks = Vec::new();
    let mut file = None;
    let mut lines = text.lines().enumerate();
    while let Some((number, line)) = lines.next() {
        if let Some(path) = line.strip_prefix("<!-- file: ") {
            file = path.strip_suffix(" -->").map(str::to_owned);
        } else if let Some(command) = line.strip_prefix("<!-- $ ") {
            let (kind, command) = match command.strip_suffix(" -->") {
                Some(whole) => (Kind::Quiet, whole),
                None => (Kind::Console, command),
            };
            let mut inside = vec![format!("$ {command}")];
            if kind == Kind::Console {
                let rest = lines.by_ref().map(|(_, line)| line.to_owned());
                inside.extend(rest.take_while(|line| line != "-->"));
            }
            blocks.push(block(kind, number, inside));
        } else if let Some(language) = line.strip_prefix("```") {
            let rest = lines.by_ref().map(|(_, line)| line.to_owned());
            let inside: Vec<String> = rest.take_while(|line| line != "```").collect();
            let kind = match (file.take(), language) {
                (Some(path), _) => Kind::File(path),
                (None, "console") => Kind::Console,
                (None, "sh") => Kind::Shell,
                (None, _) => continue,
            };
            blocks.push(block(kind, number + 1, inside));
        }
    }
    blocks
}

fn block(kind: Kind, first_line: usize, inside: Vec<String>) -> Block {
    let mut turns: Vec<Turn> = Vec::new();
    for (number, line) in inside.into_iter().enumerate() {
        let turn = |command: &str| Turn {
            command: command.to_owned(),
            line: number + 1,
            said: Vec::new(),
        };
        match &kind {
            Kind::Console | Kind::Quiet => match (line.strip_prefix("$ "), turns.last_mut()) {
                (Some(command), _) => turns.push(turn(command)),
                (None, Some(last)) => last.said.push(line),
                (None, None) => panic!("a console block must begin with `$ `: {line}"),
            },
            Kind::Shell if OURS.iter().any(|ours| line.starts_with(ours)) => {
                turns.push(turn(&line));
            }
            Kind::Shell => {}
            Kind::File(_) => {
                turns.push(Turn { said: vec![line + "\n"], ..Turn::default() });
            }
        }
    }
    Block { kind, first_line, turns }
}

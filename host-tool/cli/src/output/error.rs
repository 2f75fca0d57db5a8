//! Prints errors. What is wrong with a file is shown with the source line, as one line of text, or as
//! JSON.

use std::io;
use std::ops::Range;

use annotate_snippets::renderer::DecorStyle;
use annotate_snippets::{AnnotationKind, Level, Renderer, Snippet};
use anstream::ColorChoice;
use serde_json::{Value, json};

use super::answer::print_json;
use super::screen::{Printer, before_parsing, stderr};
use super::wrap::lines;
use crate::error::CliError;
use crate::invocation::DisplayOptions;
use saggar_files::{Diagnostic, Location, diagnostics_summary, escape_hidden};

/// Prints an error; `outcome` follows the number of diagnostics.
pub fn show_error(error: &CliError, outcome: &str, display: &DisplayOptions) {
    if display.json {
        for_programs(&error.to_string(), error.findings());
    } else if error.findings().is_empty() {
        show_report_error(error, display);
    } else {
        print_diagnostics(error.findings(), display);
        let count = diagnostics_summary(error.findings());
        let _ = stderr(display).line(format!("{count}{outcome}"));
    }
}

/// Prints an error that is not about a file that was read, such as a report that was not written.
pub fn show_report_error(error: &CliError, display: &DisplayOptions) {
    let _ = stderr(display).wrapped(format!("saggar: {error}"), "", "  ");
}

/// Prints help, which the parser has wrapped.
pub fn help(drawn: &str) {
    let _ = before_parsing(false).styled_lines(drawn);
}

/// Prints an error in the command line, as the parser drew it. What was typed has to be escaped
/// in it. If it cannot be written, the exit code still tells.
pub fn usage_error(drawn: &str) {
    let _ = before_parsing(true).wrapped_styled_lines(drawn);
}

/// As [`usage_error`], of a text without colours in which nothing is escaped yet.
pub fn plain_usage_error(text: &str) {
    let lines: Vec<String> = text.lines().map(escape_hidden).collect();
    usage_error(&lines.join("\n"));
}

/// Prints an error in the command line as JSON.
pub fn usage_error_for_programs(error: &str) {
    for_programs(error, &[]);
}

fn for_programs(error: &str, wrong: &[Diagnostic]) {
    // If this cannot be written either, the exit code still tells.
    let _ = print_json(&json!({ "ok": false, "error": error, "findings": findings(wrong) }));
}

/// Findings for a program.
pub(super) fn findings(findings: &[Diagnostic]) -> Vec<Value> {
    let each = |finding: &Diagnostic| {
        let place = finding.location.as_ref().map(|place| (place.line, place.column));
        let (line, column) = place.unzip();
        json!({
            "file": finding.file,
            "line": line,
            "column": column,
            "message": finding.message,
            "help": finding.help,
        })
    };
    findings.iter().map(each).collect()
}

/// Findings for a person.
pub(super) fn print_diagnostics(findings: &[Diagnostic], display: &DisplayOptions) {
    let mut err = stderr(display);
    for finding in findings {
        let _ = show(&mut err, finding, display);
    }
}

/// One of them.
fn show(
    out: &mut Printer<'_>,
    finding: &Diagnostic,
    display: &DisplayOptions,
) -> io::Result<()> {
    if let Some(place) = &finding.location
        && display.for_terminal
    {
        return draw(out, finding, place, display);
    }
    let place = finding
        .location
        .as_ref()
        .map_or_else(String::new, |place| format!(":{}:{}", place.line, place.column));
    if display.for_terminal {
        out.wrapped(format!("{}{place}: {}", finding.file, finding.message), "", "  ")?;
        return match &finding.help {
            Some(help) => out.wrapped(format!("help: {help}"), "  ", "        "),
            None => Ok(()),
        };
    }
    // One line each: editors and scripts read these.
    out.line(format!("{}{place}: {}", finding.file, finding.message))?;
    match &finding.help {
        Some(help) => out.line(format!("    help: {help}")),
        None => Ok(()),
    }
}

/// A finding with the line that it is about.
fn draw(
    out: &mut Printer<'_>,
    finding: &Diagnostic,
    place: &Location,
    display: &DisplayOptions,
) -> io::Result<()> {
    let renderer = match display.stderr_color {
        ColorChoice::Never => Renderer::plain(),
        ColorChoice::Auto | ColorChoice::Always | ColorChoice::AlwaysAnsi => Renderer::styled(),
    };
    let decor = if display.unicode { DecorStyle::Unicode } else { DecorStyle::Ascii };
    // What is drawn may have colours, so that foreign text goes into it written out.
    let text = |text: &str, indent: usize| {
        lines(&escape_hidden(text), display.width.saturating_sub(indent)).join("\n")
    };
    let (line, mark) = marked(place);
    let source = Snippet::source(line)
        .path(place.source.name())
        .line_start(place.line)
        .annotation(AnnotationKind::Primary.span(mark));
    let title = text(&finding.message, "error: ".len());
    let mut group = Level::ERROR.primary_title(title).element(source);
    if let Some(help) = &finding.help {
        let frame = place.line.to_string().len() + " ╰ help: ".chars().count();
        group = group.element(Level::HELP.message(text(help, frame)));
    }
    let report = &[group];
    out.styled_lines(&renderer.decor_style(decor).term_width(display.width).render(report))?;
    out.blank()
}

/// The line of a place, without what a terminal acts on, and the marked bytes of it.
fn marked(place: &Location) -> (String, Range<usize>) {
    let whole = place.source.display_text();
    let start = whole[..place.span.start].rfind('\n').map_or(0, |newline| newline + 1);
    let end = whole[start..].find('\n').map_or(whole.len(), |newline| start + newline);
    let in_line = |byte: usize| byte.clamp(start, end) - start;
    let line = whole[start..end].trim_end_matches('\r').to_owned();
    let mark =
        in_line(place.span.start).min(line.len())..in_line(place.span.end).min(line.len());
    (line, mark)
}

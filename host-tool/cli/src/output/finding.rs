//! One finding: drawn with the line it is about, as a line of text, or as JSON.

use std::io;
use std::ops::Range;

use annotate_snippets::renderer::DecorStyle;
use annotate_snippets::{AnnotationKind, Level, Renderer, Snippet};
use anstream::ColorChoice;
use serde_json::json;

use super::screen::Out;
use super::wrap::{lines, wrapped};
use crate::settings::Display;
use saggar_files::{Finding, Place, written_out};

/// A finding for a program.
pub(super) fn json(finding: &Finding) -> serde_json::Value {
    json!({
        "file": finding.file,
        "line": finding.place.as_ref().map(|place| place.line),
        "column": finding.place.as_ref().map(|place| place.column),
        "message": finding.message,
        "help": finding.help,
    })
}

/// A finding for a person.
pub(super) fn show(out: &mut Out<'_>, finding: &Finding, display: &Display) -> io::Result<()> {
    if let Some(place) = &finding.place
        && display.drawn
    {
        return draw(out, finding, place, display);
    }
    let place = finding
        .place
        .as_ref()
        .map_or_else(String::new, |place| format!(":{}:{}", place.line, place.column));
    if display.drawn {
        wrapped(
            out,
            format!("{}{place}: {}", finding.file, finding.message),
            "",
            "  ",
            display.width,
        )?;
        return match &finding.help {
            Some(help) => {
                wrapped(out, format!("help: {help}"), "  ", "        ", display.width)
            }
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
    out: &mut Out<'_>,
    finding: &Finding,
    place: &Place,
    display: &Display,
) -> io::Result<()> {
    let renderer = match display.stderr_color {
        ColorChoice::Never => Renderer::plain(),
        ColorChoice::Auto | ColorChoice::Always | ColorChoice::AlwaysAnsi => Renderer::styled(),
    };
    let decor = if display.unicode { DecorStyle::Unicode } else { DecorStyle::Ascii };
    // What is drawn may have colours, so that foreign text goes into it written out.
    let text = |text: &str, indent: usize| {
        lines(&written_out(text), display.width.saturating_sub(indent)).join("\n")
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
    out.drawn(&renderer.decor_style(decor).term_width(display.width).render(report))?;
    out.blank()
}

/// The line of a place, without what a terminal acts on, and the marked bytes of it.
fn marked(place: &Place) -> (String, Range<usize>) {
    let whole = place.source.harmless_text();
    let start = whole[..place.span.start].rfind('\n').map_or(0, |newline| newline + 1);
    let end = whole[start..].find('\n').map_or(whole.len(), |newline| start + newline);
    let in_line = |byte: usize| byte.clamp(start, end) - start;
    let line = whole[start..end].trim_end_matches('\r').to_owned();
    let mark =
        in_line(place.span.start).min(line.len())..in_line(place.span.end).min(line.len());
    (line, mark)
}

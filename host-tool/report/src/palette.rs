//! Colours of the page and of the drawings.
//!
//! The curves have the hues of M. Okabe and K. Ito, "Color Universal Design", 2008, which people
//! of all kinds of colour vision can tell apart; purple and green are darkened on light paper to
//! have a contrast of 3:1 (WCAG 2.2, 1.4.11), and on dark paper blue and black are replaced by lighter
//! hues of the same set. No two curves have both the same colour and the same dashes.

/// A colour by the name of its variable, on light and on dark paper.
pub(super) struct Colour {
    name: &'static str,
    light: &'static str,
    dark: &'static str,
}

const fn colour(name: &'static str, light: &'static str, dark: &'static str) -> Colour {
    Colour { name, light, dark }
}

/// All colours.
pub(super) const COLOURS: [Colour; 15] = [
    colour("paper", "#fbf9f4", "#1c1b19"),
    colour("card", "#ffffff", "#252420"),
    colour("ink", "#26241f", "#ebe6da"),
    colour("faint", "#625d52", "#aea796"),
    colour("line", "#d9d3c5", "#45423a"),
    colour("band", "#f1ece0", "#28261f"),
    colour("good", "#006b4f", "#4fcfa6"),
    colour("bad", "#a83d00", "#ff9d6b"),
    colour("unknown", "#7a5200", "#e5c04b"),
    colour("setpoint", "#26241f", "#ebe6da"),
    colour("sensor", "#0072b2", "#56b4e9"),
    colour("piece", "#d55e00", "#e69f00"),
    colour("muffle", "#00855f", "#2fbf95"),
    colour("element", "#b0568a", "#cc79a7"),
    colour("mark", "#a83d00", "#ff9d6b"),
];

/// The colours as variables of a style sheet, dark ones where the reader asks for them.
pub(super) fn variables() -> String {
    let list = |pick: fn(&Colour) -> &'static str| -> String {
        COLOURS.iter().map(|colour| format!("--{}:{};", colour.name, pick(colour))).collect()
    };
    let (light, dark) = (list(|colour| colour.light), list(|colour| colour.dark));
    format!(
        ":root{{color-scheme:light dark;{light}}}\
         @media screen and (prefers-color-scheme:dark){{:root{{{dark}}}}}"
    )
}

/// A style sheet with the light colours in the place of the variables, for readers of drawings
/// that know no variables.
pub(super) fn literal(style: &str) -> String {
    COLOURS.iter().fold(style.to_owned(), |style, colour| {
        style.replace(&format!("var(--{})", colour.name), colour.light)
    })
}

#[cfg(test)]
pub(super) fn pairs(name: &str) -> Option<[&'static str; 2]> {
    let found = COLOURS.iter().find(|colour| colour.name == name)?;
    Some([found.light, found.dark])
}

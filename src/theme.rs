//! Which colours do pictures, window and sheets share?
//!
//! Two themes, paper and dusk, as plain data. Colours are sRGB; light is mixed in linear values. Plumb red marks
//! verticals and their vanishing point and nothing else; the side colour marks sides and the subject's own outline
//! and nothing else.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A look for everything that is drawn.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub enum Theme {
    /// Warm paper by day.
    #[default]
    Paper,
    /// The same table in the evening.
    Dusk,
}

/// An sRGB colour, 8 bits a channel.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Colour(pub u8, pub u8, pub u8);

/// The named colours of a theme.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Palette {
    /// Behind everything.
    pub table: Colour,
    /// The sheet that a stance answers on, and label plates.
    pub panel: Colour,
    /// Scales and inputs, on the table and on the sheet; what is chosen.
    pub well: Colour,
    /// Hairlines.
    pub line: Colour,
    /// The outline of what can be pressed.
    pub control: Colour,
    /// Text, frame, index marks, the stance, what is chosen.
    pub ink: Colour,
    /// Captions and ticks.
    pub soft: Colour,
    /// Verticals, their vanishing point, plumb lines.
    pub plumb: Colour,
    /// Sides and the subject's own outline.
    pub side: Colour,
    /// Open ground.
    pub open: Colour,
    /// Ground that needs a permission.
    pub ask: Colour,
    /// Card in full light.
    pub card_lit: Colour,
    /// Card turned away from it.
    pub card_shaded: Colour,
    /// Grey card, lit and shaded.
    pub grey: [Colour; 2],
    /// Dark card, lit and shaded.
    pub dark: [Colour; 2],
    /// Leaf green, lit and shaded.
    pub leaf: [Colour; 2],
    /// Terrain.
    pub ground: Colour,
    /// Terrain in the sun's shadow.
    pub ground_shadow: Colour,
    /// Contour lines of the terrain.
    pub contour: Colour,
    /// The drawn edges of blocks.
    pub edge: Colour,
    /// The sky at the zenith.
    pub sky_high: Colour,
    /// The sky at the horizon, and the haze in front of it.
    pub sky_low: Colour,
    /// Still water.
    pub water: Colour,
    /// Where no ray reaches the picture: outside the circle that the lens draws.
    pub vignette: Colour,
}

const PAPER: Palette = Palette {
    table: Colour::hex(0xe8e0d1),
    panel: Colour::hex(0xfffdf8),
    well: Colour::hex(0xf3ecdf),
    line: Colour::hex(0xd9d1c3),
    control: Colour::hex(0x857c6c),
    ink: Colour::hex(0x2b2a27),
    soft: Colour::hex(0x5d584e),
    plumb: Colour::hex(0xc2301c),
    side: Colour::hex(0x0b6a70),
    open: Colour::hex(0x4f6b2f),
    ask: Colour::hex(0x8a5a00),
    card_lit: Colour::hex(0xfffdf8),
    card_shaded: Colour::hex(0xc4baa6),
    grey: [Colour::hex(0xe2ded5), Colour::hex(0xa8a296)],
    dark: [Colour::hex(0xa9a296), Colour::hex(0x756f65)],
    leaf: [Colour::hex(0xdfe2cb), Colour::hex(0xa4ab8b)],
    ground: Colour::hex(0xece4d5),
    ground_shadow: Colour::hex(0xcdc2ac),
    contour: Colour::hex(0xb9aa8e),
    edge: Colour::hex(0x2b2a27),
    sky_high: Colour::hex(0xd2dfe3),
    sky_low: Colour::hex(0xeeece4),
    water: Colour::hex(0xd3dcda),
    vignette: Colour::hex(0xc9bfad),
};

const DUSK: Palette = Palette {
    table: Colour::hex(0x141619),
    panel: Colour::hex(0x262a2f),
    well: Colour::hex(0x1d2024),
    line: Colour::hex(0x3d4148),
    control: Colour::hex(0x7d8088),
    ink: Colour::hex(0xece6da),
    soft: Colour::hex(0xb0aa9c),
    plumb: Colour::hex(0xff7a63),
    side: Colour::hex(0x56c2c6),
    open: Colour::hex(0xa9c77f),
    ask: Colour::hex(0xe0b15a),
    card_lit: Colour::hex(0xe8e2d6),
    card_shaded: Colour::hex(0x5c5c62),
    grey: [Colour::hex(0xb0ada8), Colour::hex(0x4b4c53)],
    dark: [Colour::hex(0x777574), Colour::hex(0x35373c)],
    leaf: [Colour::hex(0x98a28a), Colour::hex(0x434b45)],
    ground: Colour::hex(0x3a3d42),
    ground_shadow: Colour::hex(0x2a2d32),
    contour: Colour::hex(0x5a5d63),
    edge: Colour::hex(0x17191c),
    sky_high: Colour::hex(0x36506a),
    sky_low: Colour::hex(0x76848d),
    water: Colour::hex(0x343f4a),
    vignette: Colour::hex(0x101214),
};

impl Theme {
    /// Both themes.
    pub const ALL: [Self; 2] = [Self::Paper, Self::Dusk];

    /// Its colours.
    pub const fn palette(self) -> &'static Palette {
        match self {
            Self::Paper => &PAPER,
            Self::Dusk => &DUSK,
        }
    }
}

impl Colour {
    /// A colour from its six hexadecimal digits.
    pub const fn hex(digits: u32) -> Self {
        Self((digits >> 16) as u8, (digits >> 8) as u8, digits as u8)
    }

    /// Its six hexadecimal digits behind a `#`, as style sheets write it.
    pub fn to_hex(self) -> String {
        format!("#{:02x}{:02x}{:02x}", self.0, self.1, self.2)
    }

    /// The share of full light in each channel.
    ///
    /// # Source
    /// WCAG 2.2, definition of relative luminance (threshold 0.04045).
    pub fn linear(self) -> [f64; 3] {
        [self.0, self.1, self.2].map(|channel| {
            let share = f64::from(channel) / 255.0;
            if share <= 0.04045 { share / 12.92 } else { ((share + 0.055) / 1.055).powf(2.4) }
        })
    }

    /// The nearest colour to a share of full light in each channel.
    pub fn from_linear(linear: [f64; 3]) -> Self {
        let [red, green, blue] = linear.map(|share| {
            let share = share.clamp(0.0, 1.0);
            let coded = if share <= 0.003_130_8 { share * 12.92 } else { 1.055 * share.powf(1.0 / 2.4) - 0.055 };
            (coded * 255.0).round() as u8
        });
        Self(red, green, blue)
    }

    /// Relative luminance, from 0 (black) to 1 (white).
    pub fn luminance(self) -> f64 {
        let [red, green, blue] = self.linear();
        0.2126 * red + 0.7152 * green + 0.0722 * blue
    }
}

/// How well one colour reads on another, from 1 to 21.
///
/// # Formula
/// (L1 + 0.05)/(L2 + 0.05), L1 being the lighter one's relative luminance.
///
/// # Source
/// WCAG 2.2, definition of contrast ratio; text needs 4.5 (1.4.3), large text and marks 3 (1.4.3, 1.4.11).
///
/// # Example
/// ```
/// use plumbsight::theme::{Colour, contrast};
/// assert_eq!(contrast(Colour(0, 0, 0), Colour(255, 255, 255)), 21.0);
/// ```
pub fn contrast(a: Colour, b: Colour) -> f64 {
    let (one, other) = (a.luminance(), b.luminance());
    (one.max(other) + 0.05) / (one.min(other) + 0.05)
}

#[cfg(test)]
mod tests {
    use super::*;

    const WHITE: Colour = Colour::hex(0xffffff);

    #[test]
    fn contrast_agrees_with_published_ratios() {
        // Black on white, blue on white, red on blue: as printed in Manning, *Math for Web Design*.
        let (black, blue, red) = (Colour(0, 0, 0), Colour(0, 0, 255), Colour(255, 0, 0));
        for (a, b, ratio) in [(black, WHITE, 21.0), (blue, WHITE, 8.59), (red, blue, 2.15)] {
            assert!((contrast(a, b) - ratio).abs() < 0.005, "{a:?} on {b:?}");
            assert_eq!(contrast(a, b), contrast(b, a));
        }
        // Greys either side of 4.5, and the Okabe–Ito colours on white; computed from the formula in WCAG 2.2.
        for (colour, ratio) in
            [(0x767676, 4.54), (0x777777, 4.48), (0x0072b2, 5.19), (0xd55e00, 3.87), (0x009e73, 3.42), (0xcc79a7, 3.06)]
        {
            assert!((contrast(Colour::hex(colour), WHITE) - ratio).abs() < 0.005, "{colour:06x}");
        }
    }

    #[test]
    fn every_text_colour_reads_on_its_panel() {
        // The ratios the palettes were chosen by; one of them was rounded up.
        let ratios = [[14.1, 7.0, 5.5, 6.2, 5.9, 5.8], [11.6, 6.2, 5.6, 6.8, 7.7, 7.3]];
        for (theme, ratios) in Theme::ALL.into_iter().zip(ratios) {
            let palette = theme.palette();
            let texts = [palette.ink, palette.soft, palette.plumb, palette.side, palette.open, palette.ask];
            for (text, ratio) in texts.into_iter().zip(ratios) {
                let found = contrast(text, palette.panel);
                assert!(found >= 4.5, "{theme:?} {text:?}: {found}");
                assert!((found - ratio).abs() < 0.051, "{theme:?} {text:?}: {found}, not {ratio}");
            }
            // What stands on the table and on scales; plumb red and the sides' colour stand on plates.
            for ground in [palette.table, palette.well] {
                for text in [palette.ink, palette.soft, palette.open, palette.ask] {
                    assert!(contrast(text, ground) >= 4.5, "{theme:?} {text:?} on {ground:?}");
                }
            }
            // WCAG 2.2, 1.4.11: what marks a control has 3 : 1.
            for ground in [palette.table, palette.well, palette.panel] {
                assert!(contrast(palette.control, ground) >= 3.0, "{theme:?} {ground:?}");
            }
        }
    }

    #[test]
    fn linear_light_returns_to_the_same_colour() {
        for channel in 0..=255 {
            let colour = Colour(channel, 255 - channel, channel / 2);
            assert_eq!(Colour::from_linear(colour.linear()), colour);
        }
    }
}

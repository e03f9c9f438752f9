//! Which colours do pictures, window and sheets share?
//!
//! Two themes, paper and dusk, as plain data. Colours are sRGB; light is mixed in linear values. Plumb red marks
//! verticals and their vanishing point and nothing else; the flank colour marks flanks and the subject's own outline
//! and nothing else.

/// A look for everything that is drawn.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
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
    /// Cards and label plates.
    pub panel: Colour,
    /// Scales and inputs.
    pub well: Colour,
    /// Hairlines.
    pub line: Colour,
    /// Text, frame, index marks, the stance, what is chosen.
    pub ink: Colour,
    /// Captions and ticks.
    pub soft: Colour,
    /// Verticals, their vanishing point, plumb lines.
    pub plumb: Colour,
    /// Flanks and the subject's own outline.
    pub flank: Colour,
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
    table: Colour::hex(0xef_e9_dd),
    panel: Colour::hex(0xfb_f8_f2),
    well: Colour::hex(0xf3_ee_e4),
    line: Colour::hex(0xd9_d1_c3),
    ink: Colour::hex(0x2b_2a_27),
    soft: Colour::hex(0x64_5f_55),
    plumb: Colour::hex(0xc2_30_1c),
    flank: Colour::hex(0x0b_6a_70),
    open: Colour::hex(0x4f_6b_2f),
    ask: Colour::hex(0x8a_5a_00),
    card_lit: Colour::hex(0xff_fd_f8),
    card_shaded: Colour::hex(0xc4_ba_a6),
    grey: [Colour::hex(0xe2_de_d5), Colour::hex(0xa8_a2_96)],
    dark: [Colour::hex(0xa9_a2_96), Colour::hex(0x75_6f_65)],
    leaf: [Colour::hex(0xdf_e2_cb), Colour::hex(0xa4_ab_8b)],
    ground: Colour::hex(0xec_e4_d5),
    ground_shadow: Colour::hex(0xcd_c2_ac),
    contour: Colour::hex(0xb9_aa_8e),
    edge: Colour::hex(0x2b_2a_27),
    sky_high: Colour::hex(0xd2_df_e3),
    sky_low: Colour::hex(0xee_ec_e4),
    water: Colour::hex(0xd3_dc_da),
    vignette: Colour::hex(0xc9_bf_ad),
};

const DUSK: Palette = Palette {
    table: Colour::hex(0x17_19_1c),
    panel: Colour::hex(0x22_25_2a),
    well: Colour::hex(0x1c_1f_23),
    line: Colour::hex(0x3a_3e_45),
    ink: Colour::hex(0xec_e6_da),
    soft: Colour::hex(0xa8_a2_94),
    plumb: Colour::hex(0xff_7a_63),
    flank: Colour::hex(0x56_c2_c6),
    open: Colour::hex(0xa9_c7_7f),
    ask: Colour::hex(0xe0_b1_5a),
    card_lit: Colour::hex(0xe8_e2_d6),
    card_shaded: Colour::hex(0x5c_5c_62),
    grey: [Colour::hex(0xb0_ad_a8), Colour::hex(0x4b_4c_53)],
    dark: [Colour::hex(0x77_75_74), Colour::hex(0x35_37_3c)],
    leaf: [Colour::hex(0x98_a2_8a), Colour::hex(0x43_4b_45)],
    ground: Colour::hex(0x3a_3d_42),
    ground_shadow: Colour::hex(0x002a_2d32),
    contour: Colour::hex(0x5a_5d_63),
    edge: Colour::hex(0x17_19_1c),
    sky_high: Colour::hex(0x20_2b_38),
    sky_low: Colour::hex(0x56_50_5b),
    water: Colour::hex(0x34_3f_4a),
    vignette: Colour::hex(0x10_12_14),
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

    const WHITE: Colour = Colour::hex(0xff_ff_ff);

    #[test]
    fn contrast_agrees_with_published_ratios() {
        // Black on white, blue on white, red on blue: as printed in Manning, *Math for Web Design*.
        let (black, blue, red) = (Colour(0, 0, 0), Colour(0, 0, 255), Colour(255, 0, 0));
        for (a, b, ratio) in [(black, WHITE, 21.0), (blue, WHITE, 8.59), (red, blue, 2.15)] {
            assert!((contrast(a, b) - ratio).abs() < 0.005, "{a:?} on {b:?}");
            assert_eq!(contrast(a, b), contrast(b, a));
        }
        // Greys either side of 4.5, and the Okabe–Ito colours on white; computed from the formula in WCAG 2.2.
        for (colour, ratio) in [
            (0x76_76_76, 4.54),
            (0x77_77_77, 4.48),
            (0x00_72_b2, 5.19),
            (0xd5_5e_00, 3.87),
            (0x00_9e_73, 3.42),
            (0xcc_79_a7, 3.06),
        ] {
            assert!((contrast(Colour::hex(colour), WHITE) - ratio).abs() < 0.005, "{colour:06x}");
        }
    }

    #[test]
    fn every_text_colour_reads_on_its_panel() {
        // The ratios the palettes were chosen by, to their printed digit.
        let ratios = [[13.5, 6.0, 5.3, 6.0, 5.7, 5.6], [12.4, 6.1, 6.0, 7.3, 8.2, 7.8]];
        for (theme, ratios) in Theme::ALL.into_iter().zip(ratios) {
            let palette = theme.palette();
            let texts = [palette.ink, palette.soft, palette.plumb, palette.flank, palette.open, palette.ask];
            for (text, ratio) in texts.into_iter().zip(ratios) {
                let found = contrast(text, palette.panel);
                assert!(found >= 4.5, "{theme:?} {text:?}: {found}");
                assert!((found - ratio).abs() < 0.051, "{theme:?} {text:?}: {found}, not {ratio}");
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

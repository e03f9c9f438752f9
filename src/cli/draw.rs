//! `plumbsight draw`: what do plan, section and plumb gauge of a stance look like?

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use crate::drawing::{
    Drawing, Pin, PlanLabels, PlanRequest, PlanView, SectionRequest, SiteShapes, SvgColours, SvgLetters, gauge, plan,
    section,
};
use crate::files::{FileError, write_whole};
use crate::survey::MeasureSettings;
use crate::theme::Theme;
use crate::units::Units;

use super::request::{StanceArguments, pair, survey};
use super::show::tell;
use super::still::Colours;
use super::{Ending, Outcome};

/// Pixels a point of a drawing that becomes a picture.
const PIXELS_PER_POINT: f64 = 2.0;

/// What to draw.
#[derive(Args, Debug)]
pub(super) struct DrawArguments {
    /// The site file
    #[arg(value_name = "SITE")]
    site: PathBuf,
    /// Which drawing
    #[arg(long, value_enum, default_value_t)]
    what: DrawingKind,
    /// The drawing's file, .svg or .png
    #[arg(long, short, value_name = "FILE", default_value = "drawing.svg")]
    out: PathBuf,
    /// The drawing's width and height, in points
    #[arg(long, value_name = "W,H", value_parser = pair)]
    size: Option<(f64, f64)>,
    /// The unit of lengths
    #[arg(long, value_enum, default_value_t)]
    units: Units,
    /// The colours
    #[arg(long, value_enum, default_value_t)]
    theme: Colours,
    /// Overwrite a file that already exists
    #[arg(long)]
    replace: bool,
    #[command(flatten)]
    stance: StanceArguments,
}

#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
enum DrawingKind {
    /// The site from above, with the field of view
    #[default]
    Plan,
    /// Camera and subject from the side
    Section,
    /// The subject's true taper beside the taper in the picture
    Gauge,
}

/// What the file is to be.
#[derive(Clone, Copy)]
enum Kind {
    Svg,
    Png,
}

pub(super) fn run(arguments: &DrawArguments) -> Outcome {
    let extension = arguments.out.extension().map(|extension| extension.to_string_lossy().to_lowercase());
    let kind = match extension.as_deref() {
        Some("svg") => Kind::Svg,
        Some("png") => Kind::Png,
        _ => {
            return Err(Ending::BadInput(format!(
                "{}: end the drawing's name in .svg or .png",
                arguments.out.display()
            )));
        }
    };
    let (width_pt, height_pt) = arguments.size.unwrap_or(match arguments.what {
        DrawingKind::Plan => (720.0, 540.0),
        DrawingKind::Section => (560.0, 360.0),
        DrawingKind::Gauge => (160.0, 240.0),
    });
    if !(40.0..=5000.0).contains(&width_pt) || !(40.0..=5000.0).contains(&height_pt) {
        return Err(Ending::BadInput(format!("--size is {width_pt},{height_pt}; both must be from 40 to 5000 points")));
    }
    if arguments.out.exists() && !arguments.replace {
        return Err(Ending::bad(FileError::AlreadyThere { path: arguments.out.clone() }));
    }
    let survey = survey(&arguments.site)?;
    let stance = arguments.stance.stance(&survey)?;
    let measured = survey.measure(&stance, &MeasureSettings::default())?;
    let drawing: Drawing = match arguments.what {
        DrawingKind::Plan => {
            let shapes = SiteShapes::of(&survey.model);
            let others = survey.model.site.stances.iter().filter(|other| other.name != stance.name);
            let pins: Vec<Pin> =
                others.filter_map(|other| Some(Pin::of(&other.name, &survey.stand(other).ok()?, None))).collect();
            let places: Vec<_> = pins.iter().map(|pin| pin.at).chain([stance.at]).collect();
            let view = PlanView::whole(&shapes, &places, width_pt, height_pt);
            let measured = Some(&measured);
            plan(&PlanRequest {
                survey: &survey,
                shapes: &shapes,
                measured,
                pins: &pins,
                walks: &[],
                view,
                units: arguments.units,
                titled: true,
                labels: PlanLabels::default(),
            })
        }
        DrawingKind::Section => section(&SectionRequest {
            survey: &survey,
            measured: &measured,
            units: arguments.units,
            width_pt,
            height_pt,
            titled: true,
        }),
        DrawingKind::Gauge => gauge(&survey, &measured, width_pt, height_pt),
    };
    let theme: Theme = arguments.theme.into();
    let content = match kind {
        Kind::Svg => drawing.svg(SvgColours::Theme(theme), SvgLetters::Outlines).into_bytes(),
        Kind::Png => {
            let picture = drawing.picture(theme, PIXELS_PER_POINT);
            picture
                .ok_or_else(|| Ending::BadInput("the drawing is too large for a picture".into()))?
                .png()
                .map_err(Ending::bad)?
        }
    };
    write_whole(&arguments.out, &content).map_err(Ending::bad)?;
    tell(&format!("{} is written. {}", arguments.out.display(), drawing.words))
}

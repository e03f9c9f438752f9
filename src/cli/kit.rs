//! `plumbsight kit`: which formats and lenses are there, and what does each see?

use std::path::PathBuf;

use clap::Args;

use crate::optics::{Camera, Focus, Kit, Orientation, circle_of_confusion_mm};
use crate::units::Units;

use super::show::{dash, page_width, print, tell};
use super::table::TextTable;
use super::{Ending, Outcome, request};

/// What to list.
#[derive(Args, Debug)]
pub(super) struct KitArguments {
    /// A site file whose kit is added
    #[arg(value_name = "SITE")]
    site: Option<PathBuf>,
    /// The format for the angles of view
    #[arg(long, value_name = "FORMAT", default_value = "36x24")]
    format: String,
    /// The f-number for the hyperfocal distances
    #[arg(long, alias = "f-number", value_name = "N", default_value_t = 8.0)]
    aperture: f64,
    /// The unit of lengths
    #[arg(long, value_enum, default_value_t)]
    units: Units,
    /// Print the kit as JSON
    #[arg(long)]
    json: bool,
}

pub(super) fn run(arguments: &KitArguments) -> Outcome {
    let own = request::own_kit()?;
    let kit = match &arguments.site {
        Some(site) => request::load(site)?.site.kit_with(own.as_ref()),
        None => own.iter().fold(Kit::built_in(), Kit::with),
    };
    if arguments.json {
        return print(&serde_json::to_string_pretty(&kit).map_err(Ending::bad)?);
    }
    if !(0.5..=512.0).contains(&arguments.aperture) {
        return Err(Ending::BadInput(format!("--aperture is {}; it must lie between 0.5 and 512", arguments.aperture)));
    }
    let format = kit.format(&arguments.format).map_err(Ending::bad)?;
    let mut formats = TextTable::new(&["Format", "mm", "pixels", "diagonal", "crop factor"]).with_notes("source");
    for known in &kit.formats {
        let figures = [
            known.name.clone(),
            format!("{} × {}", known.width_mm, known.height_mm),
            format!("{} × {}", known.width_px, known.height_px),
            format!("{:.2} mm", known.diagonal_mm()),
            format!("{:.2}", known.crop_factor()),
        ];
        formats.noted(figures, known.source.clone());
    }
    let hyperfocal = format!("hyperfocal at f/{}", arguments.aperture);
    let mut lenses =
        TextTable::new(&["Lens", "mapping", "across", "down", "diagonal", "rise", "image circle", &hyperfocal]);
    let frame = format.frame(Orientation::Landscape, None);
    for lens in &kit.lenses {
        let ends = if lens.is_zoom() { vec![lens.focal_mm, lens.longest_mm()] } else { vec![lens.focal_mm] };
        let cameras: Vec<Camera> =
            ends.iter().map(|&focal_mm| Camera { mapping: lens.mapping, ..Camera::plain(frame, focal_mm) }).collect();
        let fields = |side: usize| {
            let field =
                |camera: &Camera| camera.fields()[side].map_or_else(dash, |field| format!("{:.1}°", field.degrees()));
            cameras.iter().map(field).collect::<Vec<_>>().join(" to ")
        };
        let sharp = |camera: &Camera| {
            let focus = Focus { focal_mm: camera.focal_mm, f_number: arguments.aperture, distance_m: f64::INFINITY };
            arguments.units.length(focus.depth_of_field(circle_of_confusion_mm(&frame)).hyperfocal_m, 1)
        };
        lenses.row([
            lens.name.clone(),
            lens.mapping.name().into(),
            fields(0),
            fields(1),
            fields(2),
            if lens.rise_mm > 0.0 { format!("{} mm", lens.rise_mm) } else { dash() },
            lens.circle_mm.map_or_else(dash, |circle| format!("{circle} mm")),
            cameras.iter().map(sharp).collect::<Vec<_>>().join(" to "),
        ]);
    }
    tell(&format!(
        "{}\n\nAngles of view on {} ({} × {} mm), landscape:\n\n{}",
        formats.fitted(page_width()),
        format.name,
        format.width_mm,
        format.height_mm,
        lenses.fitted(page_width())
    ))
}

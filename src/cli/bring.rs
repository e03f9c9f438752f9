//! `plumbsight bring`: how does real ground become a site?

use std::path::{Path, PathBuf};

use clap::Args;

use crate::bring::{BringOptions, Brought, HeightUnit, bring};
use crate::files::{FileError, write_together};
use crate::site::{Anchor, Block, EditError, SITE_FORMAT, Site, SiteEditor, Terrain, write_new};
use crate::units::Units;

use super::show::tell;
use super::{Ending, Outcome, request};

/// What to bring.
#[derive(Args, Debug)]
pub(super) struct BringArguments {
    /// GeoJSON footprints (RFC 7946) and Esri ASCII terrain grids
    #[arg(value_name = "FILE", required = true)]
    files: Vec<PathBuf>,
    /// The site file to create, or to add to: what is already in it stays (also called --out)
    #[arg(short = 'o', long, alias = "out", value_name = "SITE")]
    into: PathBuf,
    /// The coordinate system of the files, as an EPSG code, where the files do not say
    #[arg(long, value_name = "EPSG")]
    crs: Option<u16>,
    /// The site's origin: latitude, longitude and, optionally, the height that counts as 0
    #[arg(long, value_name = "LAT,LON[,H]", value_parser = anchor, allow_hyphen_values = true)]
    anchor: Option<Anchor>,
    /// The height of footprints that have none, in metres
    #[arg(long, value_name = "M", default_value_t = BringOptions::default().default_height_m)]
    default_height: f64,
    /// The unit of heights that have none
    #[arg(long, value_enum, default_value_t)]
    height_unit: Units,
    /// The block that is the subject, imported or already in the site
    #[arg(long, value_name = "NAME")]
    subject: Option<String>,
    /// Import only what lies within this distance of the anchor, in metres
    #[arg(long, value_name = "M")]
    within: Option<f64>,
    /// Replace the site's terrain by the imported one
    #[arg(long)]
    replace_terrain: bool,
}

/// How often the site is read again because somebody saves it while files are brought.
const MOST_TRIES: u32 = 20;

pub(super) fn run(arguments: &BringArguments) -> Outcome {
    for _ in 0..MOST_TRIES {
        if let Written::Yes(report) = bring_once(arguments)? {
            return tell(&report);
        }
    }
    Err(Ending::BadInput(format!(
        "{} was saved by somebody else again and again while files were brought into it; nothing was written, try again when \
         it is at rest",
        arguments.into.display()
    )))
}

/// Whether the site was written.
enum Written {
    /// It was, and this is to be said of it.
    Yes(String),
    /// Somebody saved it meanwhile: what they saved is there, and ours has to be added to that.
    ChangedMeanwhile,
}

/// Reads the site, reads the files, and writes the site if it is still as it was read.
fn bring_once(arguments: &BringArguments) -> Result<Written, Ending> {
    let known = if arguments.into.exists() { Some(request::load(&arguments.into)?) } else { None };
    let brings_subject = known
        .as_ref()
        .is_none_or(|known| !known.site.blocks.iter().any(|block| Some(&block.name) == arguments.subject.as_ref()));
    let options = BringOptions {
        crs: arguments.crs,
        anchor: arguments.anchor.clone(),
        default_height_m: arguments.default_height,
        height_unit: match arguments.height_unit {
            Units::M => HeightUnit::Metres,
            Units::Ft => HeightUnit::Feet,
        },
        subject: arguments.subject.clone().filter(|_| brings_subject),
        within_m: arguments.within,
    };
    let brought = bring(&arguments.files, &options, known.as_ref().map(|known| &known.site)).map_err(Ending::bad)?;
    let mut lines = brought.summary.clone();
    lines.extend(brought.warnings.iter().map(|warning| format!("Note: {warning}")));
    let written = match known {
        Some(known) => add(arguments, &known.text, &known.site, brought)?,
        None => build(&arguments.into, brought)?,
    };
    if !written {
        return Ok(Written::ChangedMeanwhile);
    }
    lines.push(format!("{} is written.", arguments.into.display()));
    Ok(Written::Yes(lines.join("\n")))
}

/// A new site of nothing but what was brought; whether it was written, which it is not where one has come to be meanwhile.
fn build(path: &Path, brought: Brought) -> Result<bool, Ending> {
    let stem = path.file_name().unwrap_or_default().to_string_lossy();
    let site = Site {
        format: SITE_FORMAT,
        name: stem.trim_end_matches(".ron").trim_end_matches(".site").to_owned(),
        anchor: Some(brought.anchor),
        time_zone: None,
        terrain: brought.terrain.unwrap_or_default(),
        water_level_m: None,
        front: None,
        underlay: None,
        sun: None,
        blocks: brought.blocks,
        grounds: Vec::new(),
        kit: None,
        stances: Vec::new(),
    };
    let text = write_new(&site);
    // What is written must be readable again: the same checks as for a person's own file.
    crate::site::parse_site(&text, &path.display().to_string()).map_err(Ending::bad)?;
    match write_together(&[(path, text.as_bytes())], false) {
        Ok(()) => Ok(true),
        // Something that was there all along, such as a link that leads nowhere, is no site that could be added to.
        Err(FileError::AlreadyThere { .. }) if path.exists() => Ok(false),
        Err(error) => Err(Ending::bad(error)),
    }
}

/// The same added to a person's own file, of which everything else stays as it was written; whether it was written, which it
/// is not where the file has changed meanwhile.
fn add(arguments: &BringArguments, text: &str, site: &Site, brought: Brought) -> Result<bool, Ending> {
    let mut editor = SiteEditor::new(text, &arguments.into.display().to_string()).map_err(Ending::bad)?;
    if let Some(terrain) = &brought.terrain {
        if matches!(site.terrain, Terrain::Grid(_)) && !arguments.replace_terrain {
            return Err(Ending::BadInput(format!(
                "{} already has a terrain grid; use --replace-terrain to replace it",
                arguments.into.display()
            )));
        }
        editor.set_terrain(terrain).map_err(Ending::bad)?;
    }
    if site.anchor.is_none() {
        editor.set_anchor(Some(&brought.anchor)).map_err(Ending::bad)?;
    }
    let known = editor.site().blocks.len();
    editor.insert_blocks(known, &brought.blocks).map_err(Ending::bad)?;
    if let Some(name) = arguments.subject.as_ref().filter(|name| site.blocks.iter().any(|block| block.name == **name)) {
        let index = editor.block_named(name).map_err(Ending::bad)?;
        let subject = Block { subject: true, ..editor.site().blocks[index].clone() };
        editor.set_block(index, &subject).map_err(Ending::bad)?;
    }
    match editor.save(&arguments.into) {
        Ok(_) => Ok(true),
        Err(EditError::File(FileError::Changed { .. })) => Ok(false),
        Err(error) => Err(Ending::bad(error)),
    }
}

fn anchor(text: &str) -> Result<Anchor, String> {
    let numbers: Result<Vec<f64>, String> = text
        .split(',')
        .map(|part| part.trim().parse().map_err(|_| format!("'{}' is not a number", part.trim())))
        .collect();
    let (latitude_deg, longitude_deg, height_m) = match numbers?[..] {
        [latitude, longitude] => (latitude, longitude, 0.0),
        [latitude, longitude, height] => (latitude, longitude, height),
        _ => return Err("write latitude,longitude or latitude,longitude,height".into()),
    };
    if !(-90.0..=90.0).contains(&latitude_deg) || !(-180.0..=180.0).contains(&longitude_deg) {
        return Err("the latitude must lie between -90 and 90, the longitude between -180 and 180".into());
    }
    Ok(Anchor { latitude_deg, longitude_deg, height_m, vertical_datum: None })
}

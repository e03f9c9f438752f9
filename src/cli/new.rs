//! `plumbsight new`: how do a few answers become a site?

use std::path::PathBuf;

use clap::builder::PossibleValue;
use clap::{Args, ValueEnum};

use crate::files::write_together;
use crate::new_site::{NewKind, NewSite, Side, Sides};
use crate::site::Access;
use crate::units::Units;

use super::show::tell;
use super::{Ending, Outcome};

/// What stands there.
#[derive(Args, Debug)]
pub(super) struct NewArguments {
    /// The site file to create, such as tower.site.ron
    #[arg(value_name = "FILE")]
    file: PathBuf,
    /// What stands there
    #[arg(long, value_enum)]
    kind: NewKind,
    /// Its height, from the ground to the very top; a usual one unless given
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    height: Option<f64>,
    /// Its width at the base; of a façade or church the width of its front
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    base: Option<f64>,
    /// Its width at the top, under a cap if it has one
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    top: Option<f64>,
    /// The number of storeys of a tower or façade
    #[arg(long, value_name = "N")]
    storeys: Option<u32>,
    /// The site's name
    #[arg(long, value_name = "NAME")]
    name: Option<String>,
    /// The sides on which anyone may stand, with commas between; those not named in either list are closed
    #[arg(long, value_name = "SIDES", value_enum, value_delimiter = ',')]
    open: Vec<Side>,
    /// The sides on which one may stand with permission, with commas between
    #[arg(long, value_name = "SIDES", value_enum, value_delimiter = ',')]
    permission: Vec<Side>,
    /// The compass bearing toward which its front looks
    #[arg(long, value_name = "BEARING", default_value_t = 180.0, allow_hyphen_values = true)]
    front: f64,
    /// The unit in which lengths are given and printed; the file is metric
    #[arg(long, value_enum, default_value_t)]
    units: Units,
    /// Overwrite a file that already exists
    #[arg(long)]
    replace: bool,
}

impl ValueEnum for NewKind {
    fn value_variants<'a>() -> &'a [Self] {
        &Self::ALL
    }

    fn to_possible_value(&self) -> Option<PossibleValue> {
        Some(PossibleValue::new(self.key()).help(self.explained()))
    }
}

impl ValueEnum for Side {
    fn value_variants<'a>() -> &'a [Self] {
        &[Self::Front, Self::Right, Self::Behind, Self::Left]
    }

    fn to_possible_value(&self) -> Option<PossibleValue> {
        Some(PossibleValue::new(self.key()))
    }
}

impl NewArguments {
    /// The answers, with what is not said as it usually is.
    fn new_site(&self) -> Result<NewSite, Ending> {
        let metres = |length: f64| self.units.to_metres(length);
        let height_m = self.height.map_or(self.kind.usual_height_m(), metres);
        let usual = NewSite::of_height(self.kind, height_m);
        // What is said of one end holds for the other where it could not be otherwise.
        let top_m = self.top.map(metres);
        let base_m = self.base.map_or_else(|| top_m.map_or(usual.base_m, |top_m| usual.base_m.max(top_m)), metres);
        let top_m = top_m.unwrap_or_else(|| self.kind.usual_top_m(base_m));
        let name = self.name.clone().unwrap_or_else(|| self.name_of_file().unwrap_or(usual.name));
        Ok(NewSite {
            kind: self.kind,
            name,
            height_m,
            base_m,
            top_m,
            storeys: self.storeys,
            open: self.sides()?,
            front_deg: self.front,
        })
    }

    fn sides(&self) -> Result<Sides, Ending> {
        if self.open.is_empty() && self.permission.is_empty() {
            return Ok(Sides::default());
        }
        let mut sides = Sides::all(Access::Closed);
        for (list, access) in [(&self.permission, Access::Ask), (&self.open, Access::Open)] {
            for side in list {
                sides.set(*side, access);
            }
        }
        match self.open.iter().find(|side| self.permission.contains(side)) {
            Some(both) => Err(Ending::BadInput(format!(
                "'{}' is named by --open and by --permission; take it out of one of them",
                both.key()
            ))),
            None => Ok(sides),
        }
    }

    /// The file's name without what tells its kind.
    fn name_of_file(&self) -> Option<String> {
        let name = self.file.file_name()?.to_string_lossy().into_owned();
        let name = name.trim_end_matches(".ron").trim_end_matches(".site").trim();
        (!name.is_empty()).then(|| name.to_owned())
    }
}

pub(super) fn run(arguments: &NewArguments) -> Outcome {
    let new = arguments.new_site()?;
    let text = new.text().map_err(Ending::bad)?;
    let file = arguments.file.display();
    write_together(&[(&arguments.file, text.as_bytes())], arguments.replace).map_err(Ending::bad)?;
    let shell_name = quoted_for_shell(&arguments.file.to_string_lossy());
    tell(&format!(
        "{file} is written: {}; its front looks toward {}°.\n\
         What stands about it and all details are guesses, marked as such in the file; correct them there.\n\
         \n\
         Next: plumbsight measure {shell_name}",
        new.words(arguments.units),
        arguments.front,
    ))
}

/// A file's name as one types it.
fn quoted_for_shell(name: &str) -> String {
    let plain = |c: char| c.is_alphanumeric() || "-_./+:@".contains(c);
    if !name.is_empty() && name.chars().all(plain) {
        name.to_owned()
    } else {
        format!("'{}'", name.replace('\'', "'\\''"))
    }
}

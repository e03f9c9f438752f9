//! How do the places read before they are written?

use crate::handover::document::{Document, DocumentBlock, Fact};
use crate::place::Geographic;
use crate::units::Units;

use super::Places;

impl Places {
    /// The places as a page to read, with lengths in this unit.
    pub fn document(&self, units: Units) -> Document {
        let stances: Vec<Fact> = self
            .stances
            .iter()
            .map(|stance| {
                let height = format!("camera {} above the ground", units.length(stance.eye_above_ground_m, 2));
                Fact::noted(&stance.name, on_earth(&stance.eye), height)
            })
            .collect();
        let subject: Vec<Fact> = self
            .subject
            .iter()
            .map(|subject| {
                let height = format!("height {}", units.length(subject.rises_m, 1));
                Fact::noted(&subject.name, on_earth(&subject.foot), height)
            })
            .collect();
        let grounds: Vec<Fact> = self
            .grounds
            .iter()
            .map(|ground| {
                let note = ground.caution.as_ref().map(Into::into);
                Fact { note, ..Fact::new(&ground.name, ground.access.words()) }
            })
            .collect();
        let facts = [("Stances", stances), ("Subject", subject), ("Grounds", grounds)].into_iter();
        let mut blocks: Vec<DocumentBlock> = facts
            .filter(|(_, facts)| !facts.is_empty())
            .map(|(title, facts)| DocumentBlock::section(title, vec![DocumentBlock::Facts(facts)]))
            .collect();
        if !self.left_out.is_empty() {
            let list = DocumentBlock::Cautions(self.left_out.iter().map(Into::into).collect());
            blocks.push(DocumentBlock::section("Left out", vec![list]));
        }
        let datum = self.vertical_datum.as_deref().unwrap_or("the WGS 84 ellipsoid");
        Document {
            title: (&self.site).into(),
            subtitle: "Stances, subject and grounds on the map".into(),
            blocks,
            footer: format!("Latitude and longitude are on WGS 84. Heights count from {datum}.").into(),
        }
    }
}

fn on_earth(place: &Geographic) -> String {
    format!("{:.6}°, {:.6}°", place.latitude().degrees(), place.longitude().degrees())
}

//! How does a day of stances come into a GPS device? A GPX 1.1 route, a point for each stance in the order of the day.

use gpx::{Gpx, GpxVersion, Metadata, Route, Waypoint};

use crate::day::DayPlan;
use crate::light::Zone;
use crate::place::TangentPlane;
use crate::pose::WorldPoint;

use super::gpx::file_text;
use super::place::{longitude_latitude, xml_text};

/// A day as the text of a `.gpx` file. A stance that lies off the Earth's plane is left out.
pub fn route(plan: &DayPlan, plane: &TangentPlane, zone: &Zone) -> String {
    let point = |visit: &crate::day::Visit| {
        let (x, y) = visit.stance.at;
        let place = plane.geographic_from_world(&WorldPoint::new(x, y, 0.0))?;
        let mut point = Waypoint::new(longitude_latitude(&place).into());
        point.name = Some(xml_text(&visit.stance.name));
        point.description = Some(xml_text(&format!(
            "arrive {}, begin {}, leave {}",
            zone.minutes(visit.arrives),
            zone.minutes(visit.begins),
            zone.minutes(visit.leaves)
        )));
        point.type_ = Some("stance".into());
        Some(point)
    };
    let name = format!("{}, {}", plan.site, plan.sun.day);
    let gpx = Gpx {
        version: GpxVersion::Gpx11,
        creator: Some(format!("plumbsight {}", env!("CARGO_PKG_VERSION"))),
        metadata: Some(Metadata { name: Some(xml_text(&name)), ..Metadata::default() }),
        routes: vec![Route {
            name: Some(xml_text(&name)),
            points: plan.visits.iter().filter_map(point).collect(),
            ..Route::default()
        }],
        ..Gpx::default()
    };
    file_text(&gpx)
}

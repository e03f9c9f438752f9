//! Which side of the subject is the picture of? A press of the second button on a wall in the finder names it.

use bevy_egui::egui::{Id, Pos2, Response, Ui};

use crate::optics::PixelPoint;
use crate::site::Front;
use crate::viewer::state::desk::{Action, BuildAction, SiteChange};

use super::FinderPlace;
use super::context::PanelContext;

/// The menu over the finder.
pub(super) fn front_menu(
    response: &Response,
    place: &FinderPlace,
    panel: &PanelContext<'_>,
    actions: &mut Vec<Action>,
) {
    let id = response.id.with("front");
    if response.secondary_clicked() {
        let front = response.interact_pointer_pos().and_then(|at| front_under(place, panel, at));
        response.ctx.data_mut(|data| data.insert_temp(id, front));
    }
    response.context_menu(|ui| menu_ui(ui, panel, id, actions));
}

fn menu_ui(ui: &mut Ui, panel: &PanelContext<'_>, id: Id, actions: &mut Vec<Action>) {
    let front: Option<Front> = ui.data(|data| data.get_temp::<Option<Front>>(id)).flatten();
    let style = &panel.style;
    match front {
        Some(front) => {
            if ui.button("This wall is the front").on_hover_text("saved in the site file").clicked() {
                actions.push(BuildAction::Change(SiteChange::SetFront(Some(front)), None).into());
                ui.close();
            }
        }
        None => {
            ui.label(style.note("Press on a wall of the subject to name it the front."));
        }
    }
    if ui.button("Any side is the front").on_hover_text("saved in the site file").clicked() {
        actions.push(BuildAction::Change(SiteChange::SetFront(Some(Front::Any)), None).into());
        ui.close();
    }
}

/// The wall of the subject under a place of the finder.
fn front_under(place: &FinderPlace, panel: &PanelContext<'_>, at: Pos2) -> Option<Front> {
    let standing = panel.standing();
    let frame = &standing.camera.frame;
    let across = f64::from((at.x - place.frame.left()) / place.frame.width().max(1.0));
    let down = f64::from((at.y - place.frame.top()) / place.frame.height().max(1.0));
    let pixel = PixelPoint::new(across * f64::from(frame.width_px), down * f64::from(frame.height_px));
    panel.desk.survey().front_at(standing, pixel)
}

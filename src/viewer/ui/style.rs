//! How does everything in the window look? Type, colours, cards and the small parts that every panel draws.

use std::sync::Arc;

use bevy_egui::egui::{
    self, Align2, Color32, CornerRadius, FontFamily, FontId, Galley, Pos2, Rect, Response, Sense, Stroke, StrokeKind,
    TextStyle, Ui, Vec2, WidgetInfo, WidgetType,
};

use crate::theme::{Colour, Palette, Theme};

use crate::viewer::render::narrow::screen;

/// The corner radius of cards.
const CARD_RADIUS: u8 = 8;
/// The weight of headings and values.
const SEMIBOLD: &str = "semibold";

/// What everything is drawn by: the colours, the size of the type, the space between things.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct WindowStyle {
    pub(super) theme: Theme,
    /// Points to a unit of the drawing: 1 in a small window, more in a large one.
    pub(super) unit: f32,
    /// Nothing moves by itself.
    pub(super) still: bool,
}

/// The egui colour of a token.
pub(super) const fn colour(colour: Colour) -> Color32 {
    Color32::from_rgb(colour.0, colour.1, colour.2)
}

/// A colour thinned to a share of itself, for a target on which light is mixed linearly.
pub(super) fn thinned(colour: Color32, share: f32) -> Color32 {
    Color32::from(egui::Rgba::from(colour) * share)
}

impl WindowStyle {
    /// The look for a window of this size.
    pub(super) fn for_window(theme: Theme, size: Vec2, still: bool) -> Self {
        // Type grows with the window, in steps, so that dragging a window's corner does not draw new type each frame.
        let room = (size.x / 1280.0).min(size.y / 720.0);
        let unit = ((room.clamp(1.0, 1.5) * 20.0).floor() / 20.0).max(1.0);
        Self { theme, unit, still }
    }

    pub(super) fn palette(&self) -> &'static Palette {
        self.theme.palette()
    }

    /// A length of the drawing in points.
    pub(super) fn px(&self, units: f32) -> f32 {
        units * self.unit
    }

    pub(super) fn ink(&self) -> Color32 {
        colour(self.palette().ink)
    }

    pub(super) fn soft(&self) -> Color32 {
        colour(self.palette().soft)
    }

    pub(super) fn line(&self) -> Color32 {
        colour(self.palette().line)
    }

    pub(super) fn well(&self) -> Color32 {
        colour(self.palette().well)
    }

    pub(super) fn panel(&self) -> Color32 {
        colour(self.palette().panel)
    }

    pub(super) fn plumb(&self) -> Color32 {
        colour(self.palette().plumb)
    }

    pub(super) fn side(&self) -> Color32 {
        colour(self.palette().side)
    }

    pub(super) fn ask(&self) -> Color32 {
        colour(self.palette().ask)
    }

    pub(super) fn hairline(&self) -> Stroke {
        Stroke::new(1.0, self.line())
    }

    /// 13 px: what is read.
    pub(super) fn body(&self) -> FontId {
        FontId::proportional(self.px(13.0))
    }

    /// 11.5 px: captions and notes.
    pub(super) fn caption(&self) -> FontId {
        FontId::proportional(self.px(11.5))
    }

    /// 10 px: figures on scales.
    pub(super) fn figure(&self) -> FontId {
        FontId::proportional(self.px(10.0))
    }

    /// Semibold of a size.
    pub(super) fn strong(&self, size: f32) -> FontId {
        FontId::new(self.px(size), FontFamily::Name(SEMIBOLD.into()))
    }

    /// Rich text in the caption's size and colour.
    pub(super) fn note(&self, text: impl Into<String>) -> egui::RichText {
        egui::RichText::new(kept_whole(&text.into())).font(self.caption()).color(self.soft())
    }

    /// Rich text in the body's size.
    pub(super) fn plain(&self, text: impl Into<String>) -> egui::RichText {
        egui::RichText::new(text).font(self.body()).color(self.ink())
    }

    /// Rich text of a card's heading.
    pub(super) fn title(&self, text: impl Into<String>) -> egui::RichText {
        egui::RichText::new(text).font(self.strong(13.0)).color(self.ink())
    }

    /// Text over as many lines as it takes.
    pub(super) fn wrapped(
        &self,
        painter: &egui::Painter,
        text: &str,
        font: FontId,
        colour: Color32,
        width: f32,
    ) -> Arc<Galley> {
        painter.layout(kept_whole(text), font, colour, width)
    }

    /// One line of text, shortened with an ellipsis where it is longer than its place.
    pub(super) fn fitted(&self, ui: &Ui, text: &str, font: FontId, colour: Color32, width: f32) -> Arc<Galley> {
        let mut job = egui::text::LayoutJob::simple_singleline(text.to_owned(), font, colour);
        job.wrap = egui::text::TextWrapping::truncate_at_width(width.max(1.0));
        ui.painter().layout_job(job)
    }

    /// The style of egui's own widgets.
    fn style(&self) -> egui::Style {
        let text_styles = [
            (TextStyle::Small, self.caption()),
            (TextStyle::Body, self.body()),
            (TextStyle::Button, self.body()),
            (TextStyle::Monospace, self.body()),
            (TextStyle::Heading, self.strong(15.0)),
        ];
        let mut style = egui::Style { text_styles: text_styles.into(), ..egui::Style::default() };
        style.spacing.item_spacing = Vec2::new(self.px(8.0), self.px(4.0));
        style.spacing.button_padding = Vec2::new(self.px(10.0), self.px(4.0));
        style.spacing.interact_size.y = self.px(24.0);
        style.spacing.icon_width = self.px(14.0);
        style.spacing.scroll = egui::style::ScrollStyle::thin();
        style.spacing.menu_margin = egui::Margin::same(8);
        style.animation_time = if self.still { 0.0 } else { 0.12 };
        style.visuals = self.visuals();
        // Development builds would write over what lies between two pixels.
        #[cfg(debug_assertions)]
        {
            style.debug.show_unaligned = false;
        }
        style
    }

    fn visuals(&self) -> egui::Visuals {
        let mut visuals = match self.theme {
            Theme::Paper => egui::Visuals::light(),
            Theme::Dusk => egui::Visuals::dark(),
        };
        visuals.override_text_color = Some(self.ink());
        visuals.weak_text_color = Some(self.soft());
        visuals.hyperlink_color = self.ink();
        visuals.panel_fill = self.panel();
        visuals.window_fill = self.panel();
        visuals.window_stroke = self.hairline();
        visuals.window_corner_radius = CornerRadius::same(CARD_RADIUS);
        visuals.menu_corner_radius = CornerRadius::same(CARD_RADIUS);
        visuals.window_shadow =
            egui::epaint::Shadow { offset: [0, 3], blur: 14, spread: 0, color: Color32::from_black_alpha(40) };
        visuals.popup_shadow = visuals.window_shadow;
        visuals.extreme_bg_color = self.well();
        visuals.faint_bg_color = self.well();
        visuals.code_bg_color = self.well();
        visuals.selection.bg_fill = self.line();
        visuals.selection.stroke = Stroke::new(1.0, self.ink());
        let radius = CornerRadius::same(5);
        let widgets = &mut visuals.widgets;
        for (widget, fill, edge) in [
            (&mut widgets.noninteractive, self.panel(), self.line()),
            (&mut widgets.inactive, self.panel(), self.line()),
            (&mut widgets.hovered, self.well(), self.soft()),
            (&mut widgets.active, self.line(), self.ink()),
            (&mut widgets.open, self.well(), self.soft()),
        ] {
            widget.bg_fill = fill;
            widget.weak_bg_fill = fill;
            widget.bg_stroke = Stroke::new(1.0, edge);
            widget.fg_stroke = Stroke::new(1.0, self.ink());
            widget.corner_radius = radius;
            widget.expansion = 0.0;
        }
        // A still cursor lets the window sleep.
        visuals.text_cursor.blink = false;
        visuals.text_cursor.stroke = Stroke::new(1.5, self.ink());
        visuals
    }
}

/// Gives the window its type. To be done once.
pub(super) fn set_fonts(context: &egui::Context) {
    let mut fonts = egui::FontDefinitions::empty();
    for (name, bytes) in [
        ("regular", include_bytes!("../../../assets/fonts/OpenSans-Regular.ttf").as_slice()),
        (SEMIBOLD, include_bytes!("../../../assets/fonts/OpenSans-Semibold.ttf").as_slice()),
    ] {
        fonts.font_data.insert(name.into(), Arc::new(egui::FontData::from_static(bytes)));
    }
    fonts.families.insert(FontFamily::Proportional, vec!["regular".into()]);
    fonts.families.insert(FontFamily::Monospace, vec!["regular".into()]);
    fonts.families.insert(FontFamily::Name(SEMIBOLD.into()), vec![SEMIBOLD.into()]);
    context.set_fonts(fonts);
}

/// Gives the window its colours and sizes. To be done when they change.
pub(super) fn set_egui_style(context: &egui::Context, style: &WindowStyle) {
    let style = Arc::new(style.style());
    context.set_theme(egui::Theme::Light);
    context.set_style_of(egui::Theme::Light, Arc::clone(&style));
    context.set_style_of(egui::Theme::Dark, style);
}

/// The sheet of a card.
pub(super) fn card(ui: &Ui, style: &WindowStyle, rect: Rect) {
    let radius = CornerRadius::same(CARD_RADIUS);
    ui.painter().rect(rect, radius, style.panel(), style.hairline(), StrokeKind::Inside);
}

/// A child that lays its parts out inside a rectangle, and nowhere else.
pub(super) fn within<R>(ui: &mut Ui, salt: &str, rect: Rect, contents: impl FnOnce(&mut Ui) -> R) -> R {
    // A rectangle with nothing in it is still a place.
    let rect = Rect::from_min_size(rect.min, rect.size().max(Vec2::ZERO));
    let builder = egui::UiBuilder::new().id_salt(salt).max_rect(rect);
    let mut child = ui.new_child(builder);
    child.shrink_clip_rect(rect);
    contents(&mut child)
}

/// A plain button that is a word on the table: no frame until it is pointed at or has the focus.
pub(super) fn text_button(ui: &mut Ui, style: &WindowStyle, word: &str, name: &str) -> Response {
    let galley = ui.painter().layout_no_wrap(word.to_owned(), style.caption(), style.soft());
    let size = galley.size() + Vec2::new(style.px(8.0), style.px(6.0));
    let (rect, response) = ui.allocate_exact_size(size, Sense::click());
    response.widget_info(|| WidgetInfo::labeled(WidgetType::Button, true, name));
    if response.hovered() || response.has_focus() {
        ui.painter().rect(rect, 4.0, style.panel(), style.hairline(), StrokeKind::Inside);
    }
    focus_ring(ui, style, &response, rect);
    let ink = if response.hovered() || response.has_focus() { style.ink() } else { style.soft() };
    ui.painter().galley_with_override_text_color(rect.center() - 0.5 * galley.size(), galley, ink);
    response.on_hover_cursor(egui::CursorIcon::PointingHand)
}

/// A button with a frame, as wide as asked.
pub(super) fn button(ui: &mut Ui, style: &WindowStyle, word: &str, width: f32) -> Response {
    let size = Vec2::new(width.max(1.0), style.px(26.0));
    let (rect, response) = ui.allocate_exact_size(size, Sense::click());
    response.widget_info(|| WidgetInfo::labeled(WidgetType::Button, ui.is_enabled(), word));
    draw_button(ui, style, &response, rect, word, false);
    response
}

/// A button that stays pressed while it is chosen.
pub(super) fn choice(ui: &mut Ui, style: &WindowStyle, word: &str, name: &str, chosen: bool, width: f32) -> Response {
    let size = Vec2::new(width.max(1.0), style.px(24.0));
    let (rect, response) = ui.allocate_exact_size(size, Sense::click());
    response.widget_info(|| WidgetInfo::selected(WidgetType::SelectableLabel, ui.is_enabled(), chosen, name));
    draw_button(ui, style, &response, rect, word, chosen);
    response
}

fn draw_button(ui: &Ui, style: &WindowStyle, response: &Response, rect: Rect, word: &str, chosen: bool) {
    let enabled = ui.is_enabled();
    let (fill, edge) = if response.is_pointer_button_down_on() && enabled {
        (style.line(), style.ink())
    } else if chosen {
        (style.well(), style.ink())
    } else if response.hovered() && enabled {
        (style.well(), style.soft())
    } else {
        (style.panel(), style.line())
    };
    ui.painter().rect(rect, 5.0, fill, Stroke::new(1.0, edge), StrokeKind::Inside);
    focus_ring(ui, style, response, rect);
    let ink = if enabled { style.ink() } else { style.soft() };
    let font = |size: f32| if chosen { style.strong(size) } else { FontId::proportional(style.px(size)) };
    let room = rect.width() - style.px(6.0);
    let galley = [12.5, 11.0, 10.0]
        .into_iter()
        .map(|size| ui.painter().layout_no_wrap(word.to_owned(), font(size), ink))
        .find(|galley| galley.size().x <= room)
        .unwrap_or_else(|| style.fitted(ui, word, font(10.0), ink, room));
    ui.painter().galley(rect.center() - 0.5 * galley.size(), galley, ink);
}

/// The ring around what has the keyboard.
pub(super) fn focus_ring(ui: &Ui, style: &WindowStyle, response: &Response, rect: Rect) {
    if response.has_focus() {
        ui.painter().rect_stroke(rect.expand(1.0), 5.0, Stroke::new(2.0, style.ink()), StrokeKind::Outside);
    }
}

/// A small triangle that points down at a scale, with the line below it: the index of every scale.
pub(super) fn index_mark(painter: &egui::Painter, style: &WindowStyle, top: Pos2, height: f32) {
    let half = style.px(5.0);
    // It ends above the figures, so that the one it points at can be read.
    painter.vline(top.x, top.y..=top.y + style.px(10.0), Stroke::new(style.px(1.6), style.ink()));
    painter.vline(top.x, top.y + height - style.px(3.0)..=top.y + height, Stroke::new(style.px(1.6), style.ink()));
    painter.add(egui::Shape::convex_polygon(
        vec![
            top + Vec2::new(-half, -0.5 * half),
            top + Vec2::new(half, -0.5 * half),
            top + Vec2::new(0.0, style.px(6.0)),
        ],
        style.ink(),
        Stroke::NONE,
    ));
}

/// Text that is drawn, and read aloud with its rectangle.
pub(super) fn drawn_text(
    ui: &mut Ui,
    id: egui::Id,
    at: Pos2,
    anchor: Align2,
    galley: Arc<Galley>,
    spoken: &str,
    ink: Color32,
) -> Rect {
    let rect = anchor.anchor_size(at, galley.size());
    ui.painter().galley(rect.min, galley, ink);
    ui.interact(rect, id, Sense::hover()).widget_info(|| WidgetInfo::labeled(WidgetType::Label, true, spoken));
    rect
}

/// The text with its quantities whole: no line ends between a number and its unit.
fn kept_whole(text: &str) -> String {
    const UNITS: [&str; 13] = ["m", "ft", "mm", "inch", "km", "px", "px/m", "px/ft", "MP", "MB", "s", "min", "%"];
    let mut whole = String::with_capacity(text.len());
    let mut words = text.split(' ').peekable();
    while let Some(word) = words.next() {
        whole.push_str(word);
        let Some(next) = words.peek() else { break };
        let unit = next.lines().next().unwrap_or_default().trim_end_matches([',', '.', ';', ':', ')']);
        let bound = word.ends_with(|c: char| c.is_ascii_digit()) && UNITS.contains(&unit);
        whole.push(if bound { '\u{a0}' } else { ' ' });
    }
    whole
}

/// A count as a length on the screen.
pub(super) fn count(number: usize) -> f32 {
    screen(number as f64)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_line_ends_between_a_number_and_its_unit() {
        assert_eq!(kept_whole("1.7 m nearer, 0.5 m up (12 mm)."), "1.7\u{a0}m nearer, 0.5\u{a0}m up (12\u{a0}mm).");
        assert_eq!(kept_whole("93 % of it, 5 frames"), "93\u{a0}% of it, 5 frames");
        assert_eq!(kept_whole("the 135 mm; 5 m\n3 more\nm"), "the 135\u{a0}mm; 5\u{a0}m\n3 more\nm");
    }
}

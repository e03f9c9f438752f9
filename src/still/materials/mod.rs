//! What does the place look like, built of its materials, by daylight?
//!
//! Each piece of surface that a pixel sees is asked once for the share of light that it throws back, averaged over the pixel;
//! sun, sky and the light thrown back by the ground are then laid on it, and the air in front of it. Edges, shadows and every
//! point are those of the card look: nothing here moves a ray.

mod cover;
mod daylight;
mod filter;
#[cfg(feature = "viewer")]
mod flat;
mod floor;
mod names;
mod openings;
mod shade;
mod skins;

#[cfg(feature = "viewer")]
pub(crate) use flat::{FlatTones, face_tones};
pub(super) use shade::{MaterialScene, Piece, Seen};

//! How does the graphics card draw the site? The same model as the still, through the same lens.

pub(in crate::viewer) mod edges;
pub(in crate::viewer) mod finder;
pub(in crate::viewer) mod finder_mesh;
pub(in crate::viewer) mod lens_warp;
pub(in crate::viewer) mod narrow;
pub(in crate::viewer) mod scene;
pub(in crate::viewer) mod shadow_map;
pub(in crate::viewer) mod site_parts;
pub(in crate::viewer) mod surfaces;

#import bevy_pbr::forward_io::VertexOutput
#import bevy_pbr::mesh_view_bindings::view

// One pipeline for each of BLOCKS, GROUND, WATER and SKY, with SHADE where the sun casts shadows and SOFT_SHADE where their
// edge is soft: a processor that plays graphics card runs both sides of every question, so what is not drawn is not asked.

struct SurfaceUniform {
    // Colours as they are coded in sRGB: tones are mixed as the eye steps.
    lit: vec4<f32>,
    shaded: vec4<f32>,
    // Linear light: contour lines, haze and the sun's glow.
    line: vec4<f32>,
    haze: vec4<f32>,
    glow: vec4<f32>,
    // Where the light comes from; whether it casts shadows.
    sun: vec4<f32>,
    // The interval of contours or 0; the water's level, or far below.
    ground: vec4<f32>,
    // A texel of the shadow map, in metres and as a share of the map.
    shade: vec4<f32>,
    light_clip_from_world: mat4x4<f32>,
}
@group(#{MATERIAL_BIND_GROUP}) @binding(0) var<uniform> card: SurfaceUniform;
@group(#{MATERIAL_BIND_GROUP}) @binding(1) var shade: texture_depth_2d;
@group(#{MATERIAL_BIND_GROUP}) @binding(2) var shade_compare: sampler_comparison;

// How much of the sun shines on a place.
fn lit_share(position: vec3<f32>, normal: vec3<f32>, facing: f32) -> f32 {
#ifdef SHADE
    // A texel of the map lies slantwise on what the light grazes: the place is looked up that much off its surface.
    let off_m = 0.01 + 1.6 * card.shade.x * sqrt(max(1.0 - facing * facing, 0.0));
    let c = card.light_clip_from_world * vec4<f32>(position + normal * off_m, 1.0);
    let uv = c.xy * vec2<f32>(0.5, -0.5) + vec2<f32>(0.5);
    let depth = c.z + 0.00002;
#ifdef SOFT_SHADE
    let step = card.shade.y;
    var sum = 0.0;
    for (var row = -1; row <= 1; row += 1) {
        for (var column = -1; column <= 1; column += 1) {
            let place = uv + vec2<f32>(f32(column), f32(row)) * step;
            sum += textureSampleCompareLevel(shade, shade_compare, place, depth);
        }
    }
    let free = sum / 9.0;
#else
    let free = textureSampleCompareLevel(shade, shade_compare, uv, depth);
#endif
    return select(free, 1.0, any(uv < vec2<f32>(0.0)) || any(uv > vec2<f32>(1.0)));
#else
    return 1.0;
#endif
}

// Linear light from coded values, to a thousandth.
fn light(coded: vec3<f32>) -> vec3<f32> {
    return coded * (coded * (coded * 0.305306011 + 0.682171111) + 0.012522878);
}

fn tone(share: f32) -> vec3<f32> {
    return light(clamp(mix(card.shaded.rgb, card.lit.rgb, share), vec3<f32>(0.0), vec3<f32>(1.0)));
}

// The tones of the still (`still/tones.rs`), told once more.
#ifdef SKY
fn sky(direction: vec3<f32>) -> vec3<f32> {
    let up = max(direction.z, 0.0);
    let plain = tone(1.0 - exp(-2.6 * up) * (1.0 - up));
#ifdef SHADE
    let short = 1.0 - dot(direction, card.sun.xyz);
    // The angle of a cosine that is short of 1 by no more than a tenth, to a thousandth of a degree.
    let off_deg = degrees(sqrt(2.0 * clamp(short, 0.0, 0.1))) * (1.0 + short * (1.0 / 12.0 + short * (3.0 / 160.0)));
    let halo = select(0.0, 0.42 * exp(-0.32 * (off_deg - 0.26667)), short < 0.1);
    return mix(plain, card.glow.rgb, select(halo, 1.0, off_deg < 0.26667));
#else
    return plain;
#endif
}
#endif

#ifdef GROUND
// The width of a line on the ground, as the still has it.
fn line_px() -> f32 {
    return 0.75 * max(0.0015 * min(view.viewport.z, view.viewport.w), 0.9);
}

fn contour(height_m: f32, climb: f32, distance_m: f32) -> f32 {
    let interval_m = card.ground.x;
    let place = height_m / interval_m;
    let nearest = round(place);
    let off_px = abs(place - nearest) * interval_m / climb;
    let fifth = nearest / 5.0;
    let heavy = abs(fifth - round(fifth)) < 0.05;
    let width_px = line_px();
    let half_px = width_px * select(0.5, 0.8, heavy);
    let apart_px = interval_m / climb;
    let crowded = smoothstep(2.5 * width_px, 8.0 * width_px, apart_px);
    let strength = select(0.75 * crowded, max(smoothstep(0.6 * width_px, 2.5 * width_px, apart_px), crowded), heavy);
    let near = 0.35 + 0.65 / (1.0 + distance_m / 250.0);
    let line = near * strength * (1.0 - smoothstep(half_px - 0.4, half_px + 0.4, off_px));
    return select(0.0, line, interval_m > 0.0 && climb > 0.0);
}

fn ground(in: VertexOutput, distance_m: f32) -> vec3<f32> {
    let normal = normalize(in.world_normal);
    let facing = dot(normal, card.sun.xyz);
    let free = lit_share(in.world_position.xyz, normal, facing);
    let slope = (facing - card.sun.z) / max(card.sun.z, 0.15);
    let open = 1.0 + clamp(0.8 * slope, -0.7, 0.15);
    let hidden = max(clamp(0.12 * slope, -0.1, 0.1), 0.0);
    let plain = tone(mix(hidden, open, select(0.0, free, facing > 0.0)));
#ifdef VERTEX_UVS_A
    // The height that contours count by; and whether it is known.
    let height_m = in.uv.x;
    let climb = length(vec2<f32>(dpdx(height_m), dpdy(height_m)));
    let counted = select(0.0, contour(height_m, climb, distance_m), in.uv.y > 0.999);
    // Where the ground comes out of the water.
    let above_m = in.world_position.z - card.ground.y;
    let rise = length(vec2<f32>(dpdx(above_m), dpdy(above_m)));
    let width_px = line_px();
    let shore = 1.0 - smoothstep(width_px - 0.4, width_px + 0.4, above_m / max(rise, 1e-9));
    return mix(plain, card.line.rgb, max(counted, select(0.0, shore, rise > 0.0 && above_m > 0.0)));
#else
    return plain;
#endif
}
#endif

#ifdef BLOCKS
fn block(in: VertexOutput, front: bool) -> vec3<f32> {
    let normal = normalize(select(-in.world_normal, in.world_normal, front));
    let facing = dot(normal, card.sun.xyz);
    let free = lit_share(in.world_position.xyz, normal, facing);
    let aside = normal.x * card.sun.y - normal.y * card.sun.x;
    let from_sky = 0.12 + 0.11 * normal.z + 0.06 * facing + 0.035 * aside;
    let root = sqrt(max(facing, 0.0));
    let plain = tone(min(from_sky + 0.8 * free * root * sqrt(root), 1.0));
#ifdef MATERIALS
#ifdef VERTEX_COLORS
    // What the light leaves of the surface's own colour.
    return plain * in.color.rgb;
#else
    return plain;
#endif
#else
    return plain;
#endif
}
#endif

@fragment
fn fragment(in: VertexOutput, @builtin(front_facing) front: bool) -> @location(0) vec4<f32> {
    let offset = in.world_position.xyz - view.world_position.xyz;
    let distance_m = length(offset);
#ifdef SKY
    return vec4<f32>(sky(offset / distance_m), 1.0);
#else
#ifdef GROUND
    let colour = ground(in, distance_m);
#endif
#ifdef BLOCKS
    let colour = block(in, front);
#endif
#ifdef WATER
    let flat_share = 1.0 + min(offset.z / distance_m, 0.0);
    let square = flat_share * flat_share;
    let colour = mix(light(card.lit.rgb), card.haze.rgb, 0.6 * square * square * flat_share);
#endif
    let air = 0.72 * (1.0 - exp(-distance_m / 1400.0));
    return vec4<f32>(mix(colour, card.haze.rgb, air), 1.0);
#endif
}

#import bevy_pbr::forward_io::VertexOutput
#import bevy_pbr::mesh_view_bindings::view

struct Card {
    lit: vec4<f32>,
    shaded: vec4<f32>,
    line: vec4<f32>,
    haze: vec4<f32>,
    sun: vec4<f32>,
    // What it is (0 card, 1 ground, 2 sky), the interval of contours, a height that is a round one.
    kind: vec4<f32>,
    light_clip_from_world: mat4x4<f32>,
}
@group(#{MATERIAL_BIND_GROUP}) @binding(0) var<uniform> card: Card;
@group(#{MATERIAL_BIND_GROUP}) @binding(1) var shade: texture_depth_2d;
@group(#{MATERIAL_BIND_GROUP}) @binding(2) var shade_compare: sampler_comparison;

fn lit_share(position: vec3<f32>, normal: vec3<f32>) -> f32 {
    let c = card.light_clip_from_world * vec4<f32>(position + normal * 0.12, 1.0);
    let uv = c.xy * vec2<f32>(0.5, -0.5) + vec2<f32>(0.5);
    if (card.sun.w < 0.5 || any(uv < vec2<f32>(0.0)) || any(uv > vec2<f32>(1.0))) { return 1.0; }
    return textureSampleCompareLevel(shade, shade_compare, uv, c.z + 0.0004);
}

@fragment
fn fragment(in: VertexOutput) -> @location(0) vec4<f32> {
    let offset = in.world_position.xyz - view.world_position.xyz;
    if (card.kind.x > 1.5) {
        let up = normalize(offset).z;
        return vec4<f32>(mix(card.shaded.rgb, card.lit.rgb, smoothstep(-0.02, 0.55, up)), 1.0);
    }
    let normal = normalize(in.world_normal);
    let facing = dot(normal, card.sun.xyz);
    let free = lit_share(in.world_position.xyz, normal);
    var colour = vec3<f32>(0.0);
    if (card.kind.x > 0.5) {
        colour = mix(card.shaded.rgb, card.lit.rgb, free);
        let height = (in.world_position.z - card.kind.z) / card.kind.y;
        let change = fwidth(height);
        if (card.kind.y > 0.0 && change > 0.0) {
            let off = abs(fract(height - 0.5) - 0.5) / change;
            let line = (1.0 - smoothstep(0.4, 1.2, off)) * (1.0 - smoothstep(0.12, 0.4, change));
            colour = mix(colour, card.line.rgb, 0.7 * line);
        }
    } else {
        let share = free * smoothstep(-0.05, 0.75, facing);
        colour = mix(card.shaded.rgb, card.lit.rgb, 0.18 * (0.5 + 0.5 * normal.z) + 0.82 * share);
    }
    colour = mix(colour, card.haze.rgb, 1.0 - exp(-length(offset) * card.haze.w));
    return vec4<f32>(colour, 1.0);
}

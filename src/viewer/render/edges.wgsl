#import bevy_pbr::mesh_view_bindings::view

struct EdgeUniform { colour: vec4<f32> }
@group(#{MATERIAL_BIND_GROUP}) @binding(0) var<uniform> ink: EdgeUniform;

struct EdgeVertex {
    @location(0) here: vec3<f32>,
    @location(1) there: vec3<f32>,
    @location(2) one: vec3<f32>,
    @location(3) other: vec3<f32>,
    // Which side of the line; a sum (1 for a joint inside a curved surface, which is drawn only where it is the outline,
    // 2 where the line is seen from its other end); how heavy the block's lines are, below nought for always an outline.
    @location(4) side: vec3<f32>,
}
struct EdgeOutput { @builtin(position) position: vec4<f32>, @location(0) across: f32, @location(1) half_width: f32 }

const NEAR: f32 = 0.05;

fn nowhere() -> EdgeOutput {
    var drawn: EdgeOutput;
    drawn.position = vec4<f32>(2.0, 2.0, 2.0, 1.0);
    return drawn;
}

@vertex
fn vertex(v: EdgeVertex) -> EdgeOutput {
    let sight = view.world_position.xyz - v.here;
    let eye = normalize(sight);
    let facing = dot(v.one, eye);
    let other_facing = dot(v.other, eye);
    let one = facing > 0.0;
    let other = other_facing > 0.0;
    let reversed = v.side.y > 1.5;
    let joint = v.side.y - select(0.0, 2.0, reversed) > 0.5;
    let foot = v.side.z < 0.0;
    if ((!one && (!other || foot)) || (joint && one == other)) { return nowhere(); }
    var a = view.clip_from_world * vec4<f32>(v.here, 1.0);
    var b = view.clip_from_world * vec4<f32>(v.there, 1.0);
    if (a.w < NEAR && b.w < NEAR) { return nowhere(); }
    if (a.w < NEAR) { a = mix(a, b, (NEAR - a.w) / (b.w - a.w)); }
    if (b.w < NEAR) { b = mix(b, a, (NEAR - b.w) / (a.w - b.w)); }
    let half_size = view.viewport.zw * 0.5;
    let along = normalize((b.xy / b.w - a.xy / a.w) * half_size + vec2<f32>(1e-6, 0.0));
    let across = vec2<f32>(-along.y, along.x) * select(1.0, -1.0, reversed);
    // As the still's pen: thinner with distance; a crease half on either side, an outline heavier and wholly on the face that
    // is seen, which is the side away from the other face's normal.
    let pen_px = max(0.0015 * min(view.viewport.z, view.viewport.w), 0.9) * (0.5 + 0.5 / (1.0 + a.w / 120.0)) * abs(v.side.z);
    let outline = one != other || foot;
    let half_width = pen_px * select(0.5, 0.6, outline);
    let hidden = select(v.one, v.other, one);
    let toward = view.clip_from_world * vec4<f32>(-hidden, 0.0);
    let slant = dot((toward.xy * a.w - a.xy * toward.w) * half_size, across);
    let middle = select(0.0, half_width * sign(slant), outline);
    // EdgeOutput as much nearer as the face it lies on may come nearer within its width.
    let px_m = 1.0 / (view.clip_from_view[1][1] * half_size.y);
    let flattest = select(min(facing, other_facing), max(facing, other_facing), outline);
    let nearer = 0.0004 + (half_width + abs(middle) + 0.7) * px_m / max(flattest, 0.12);
    var drawn: EdgeOutput;
    let reach = half_width + 0.7;
    // The quad's own sides turn with its direction; what is across does not.
    let side = select(v.side.x, -v.side.x, reversed);
    let offset = across * (middle + side * reach) / half_size;
    drawn.position = vec4<f32>(a.xy + offset * a.w, a.z * (1.0 + nearer), a.w);
    drawn.across = side * reach;
    drawn.half_width = half_width;
    return drawn;
}

@fragment
fn fragment(in: EdgeOutput) -> @location(0) vec4<f32> {
    let cover = clamp(in.half_width + 0.5 - abs(in.across), 0.0, 1.0);
    return vec4<f32>(ink.colour.rgb, cover);
}

// Panels as bevy_egui's own shader paints them, without its powers: on a processor that plays graphics card they were much
// of a frame. Colours become linear light at the corners; between them light is mixed, so that a soft edge covers as much as
// it should. White and transparent, of which nearly all is, are the same either way.

struct Transform {
    scale: vec2<f32>,
    translation: vec2<f32>,
}

struct VertexInput {
    @location(0) position: vec2<f32>,
    @location(1) uv: vec2<f32>,
    @location(2) color: vec4<f32>,
}

struct VertexOutput {
    @builtin(position) position: vec4<f32>,
    @location(0) light: vec4<f32>,
    @location(1) uv: vec2<f32>,
}

@group(0) @binding(0) var<uniform> transform: Transform;
@group(1) @binding(0) var image_texture: texture_2d<f32>;
@group(1) @binding(1) var image_sampler: sampler;

fn linear_from_coded(coded: vec3<f32>) -> vec3<f32> {
    let bright = pow((coded + vec3<f32>(0.055)) / 1.055, vec3<f32>(2.4));
    return select(bright, coded / 12.92, coded < vec3<f32>(0.04045));
}

@vertex
fn vs_main(in: VertexInput) -> VertexOutput {
    let position = in.position * transform.scale + transform.translation;
    let light = vec4<f32>(linear_from_coded(in.color.rgb), in.color.a);
    return VertexOutput(vec4<f32>(position, 0.0, 1.0), light, in.uv);
}

@fragment
fn fs_main(in: VertexOutput) -> @location(0) vec4<f32> {
    return textureSample(image_texture, image_sampler, in.uv) * in.light;
}

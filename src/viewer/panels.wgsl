// Panels as bevy_egui's own shader paints them, without its powers: on a processor that plays graphics card they were much
// of a frame. Within a third of a step of 255 of sRGB's curves (IEC 61966-2-1), and exact for white.

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
    @location(0) color: vec4<f32>,
    @location(1) uv: vec2<f32>,
}

@group(0) @binding(0) var<uniform> transform: Transform;
@group(1) @binding(0) var image_texture: texture_2d<f32>;
@group(1) @binding(1) var image_sampler: sampler;

fn linear_from_coded(c: vec3<f32>) -> vec3<f32> {
    return c * (0.07102572 + c * (0.04925305 + c * (2.93932076 + c * (-5.22473589 + c * (4.88801777 - c * 1.72288141)))));
}

fn coded_from_linear(linear: vec3<f32>) -> vec3<f32> {
    let root = sqrt(linear);
    let bright = 0.82759268 * root + 0.30220956 * sqrt(root) - 0.05221715 * linear - vec3<f32>(0.07758509);
    return select(bright, linear * 12.92, linear < vec3<f32>(0.0031308));
}

@vertex
fn vs_main(in: VertexInput) -> VertexOutput {
    let position = in.position * transform.scale + transform.translation;
    return VertexOutput(vec4<f32>(position, 0.0, 1.0), in.color, in.uv);
}

@fragment
fn fs_main(in: VertexOutput) -> @location(0) vec4<f32> {
    let texel = textureSample(image_texture, image_sampler, in.uv);
    // Colours are multiplied as they are coded: type looks right only so.
    let coded = vec4<f32>(coded_from_linear(texel.rgb), texel.a) * in.color;
    return vec4<f32>(linear_from_coded(coded.rgb), coded.a);
}

"""GLSL of the rasteriser."""

COMMON = """
#version 330
float hash(vec3 p) {
    p = fract(p * vec3(0.1031, 0.1030, 0.0973));
    p += dot(p, p.yxz + 33.33);
    return fract((p.x + p.y) * p.z);
}
uniform sampler3D noise_map;
float noise(vec3 p) { return texture(noise_map, p / 32.0).r; }
"""

LIGHT = """
uniform sampler2DShadow key_map;
uniform sampler2DShadow sky_map;
uniform mat4 key_matrix;
uniform mat4 sky_matrix;
uniform vec3 key_dir;
uniform vec3 key_colour;
uniform vec3 sky_colour;
uniform vec3 ground_colour;
uniform vec3 eye;
uniform vec3 haze;
uniform float haze_per_m;

float seen(sampler2DShadow map, mat4 m, vec3 p, float spread, float bias) {
    vec3 c = (m * vec4(p, 1.0)).xyz * 0.5 + 0.5;
    if (any(lessThan(c.xy, vec2(0.01))) || any(greaterThan(c.xy, vec2(0.99)))) return 1.0;
    float s = 0.0;
    float turn = hash(p * 311.0) * 6.283;
    for (int k = 0; k < TAPS; k++) {
        float a = turn + 6.2832 / float(TAPS) * float(k);
        float r = spread * (0.35 + 0.65 * fract(0.618 * float(k)));
        s += texture(map, vec3(c.xy + r * vec2(cos(a), sin(a)), c.z - bias));
    }
    return s / float(TAPS);
}
vec3 lit(vec3 albedo, vec3 n, vec3 p, float gloss) {
    float key = max(dot(n, key_dir), 0.0);
    if (key > 0.0) key *= seen(key_map, key_matrix, p + 0.012 * n, 0.0022, 0.002);
    float sky = mix(0.45, 1.0, seen(sky_map, sky_matrix, p + 0.02 * n, 0.022, 0.004));
    vec3 around = mix(ground_colour, sky_colour, 0.5 + 0.5 * n.z) * sky;
    vec3 view = normalize(eye - p);
    vec3 h = normalize(key_dir + view);
    float shine = gloss * pow(max(dot(n, h), 0.0), 32.0) * step(0.001, key);
    // A weak light from the camera's side keeps what faces it from going flat.
    float front = 0.16 * max(dot(n, view), 0.0);
    return albedo * (key * key_colour + around + front) + shine * key_colour;
}
vec3 finish(vec3 c, vec3 p) {
    float far = length(eye - p);
    c = mix(haze, c, exp(-haze_per_m * far));
    return pow(clamp(c, 0.0, 1.0), vec3(1.0 / 2.2));
}
"""

SCENE_VERTEX = """
#version 330
uniform mat4 clip;
uniform mat4 model;
in vec3 in_position; in vec3 in_normal; in vec3 in_colour; in float in_kind;
out vec3 world; out vec3 rest; out vec3 normal; out vec3 colour; flat out float kind;
void main() {
    vec4 w = model * vec4(in_position, 1.0);
    world = w.xyz; rest = in_position; colour = in_colour; kind = in_kind;
    normal = mat3(model) * in_normal;
    gl_Position = clip * w;
}
"""

SCENE_FRAGMENT = COMMON + "#define TAPS 3\n" + LIGHT + """
uniform vec2 drift;
uniform float now;
in vec3 world; in vec3 rest; in vec3 normal; in vec3 colour; flat in float kind;
out vec4 shown;
void main() {
    vec3 n = normalize(normal), c = colour;
    vec3 view = normalize(eye - world);
    if (dot(n, view) < 0.0 && kind != 5.0) n = -n;
    float gloss = 0.05;
    vec3 q = rest;
    if (kind == 1.0) c *= 0.82 + 0.25 * noise(q * 9.0) + 0.16 * noise(q * 160.0);
    else if (kind == 2.0) {
        float plank = floor(q.y / 0.11);
        float start = hash(vec3(plank, 3.0, 1.0)) * 2.0;
        float cut = floor((q.x + start) / 1.4);
        c *= 0.75 + 0.3 * hash(vec3(plank, cut, 5.0));
        c *= 0.9 + 0.2 * noise(vec3(q.x * 3.0, q.y * 70.0, cut));
        if (fract(q.y / 0.11) < 0.03 || fract((q.x + start) / 1.4) < 0.004) c *= 0.6;
        gloss = 0.15;
    } else if (kind == 3.0) c *= 0.93 + 0.1 * noise(q * 1.7) + 0.05 * noise(q * 60.0);
    else if (kind == 4.0) {
        float row = floor(q.z / 0.09);
        float x = q.x + 0.12 * mod(row, 2.0);
        vec2 in_brick = vec2(fract(x / 0.24), fract(q.z / 0.09));
        c *= 0.75 + 0.4 * hash(vec3(floor(x / 0.24), row, 2.0)) + 0.12 * noise(q * 90.0);
        if (in_brick.x < 0.05 || in_brick.y < 0.12) c = mix(c, vec3(0.5, 0.48, 0.45), 0.7);
    } else if (kind == 5.0) {
        vec2 w = world.xy + drift;
        float a = noise(vec3(w * vec2(1.1, 2.2), now * 0.6));
        float b = noise(vec3(w * vec2(5.0, 9.0), now * 1.3));
        float d = noise(vec3(w * vec2(17.0, 26.0), now * 2.1));
        float fade = exp(-0.02 * length(eye - world));
        n = normalize(vec3(0.22 * (a - 0.5) + (0.16 * (b - 0.5) + 0.10 * (d - 0.5)) * fade,
                           0.24 * (b - 0.5) * fade + 0.12 * (a - 0.5), 1.0));
        float edge = pow(1.0 - max(dot(n, view), 0.0), 3.0);
        vec3 up = mix(vec3(0.30, 0.36, 0.30), sky_colour * 0.95, 0.5 + 0.6 * (a - 0.3 + d - b));
        c = mix(colour, up, 0.12 + 0.75 * edge);
        float shade = mix(0.55, 1.0, seen(sky_map, sky_matrix, world, 0.02, 0.004));
        shown = vec4(finish(c * shade, world), 1.0);
        return;
    } else if (kind == 6.0) c *= 0.6 + 0.5 * noise(q * vec3(0.4)) + 0.35 * noise(q * 14.0);
    else if (kind == 7.0) gloss = 0.45;
    else if (kind == 8.0)
        c *= 0.35 + 0.5 * noise(q * 0.45) + 0.45 * noise(q * 1.9) + 0.4 * noise(q * 7.0);
    shown = vec4(finish(lit(c, n, world, gloss), world), 1.0);
}
"""

FIGURE_VERTEX = """
#version 330
uniform mat4 clip;
in vec3 in_position; in vec3 in_normal; in vec3 in_rest; in vec4 in_cut; in vec4 in_part;
out vec3 world; out vec3 normal; out vec3 rest; out vec4 cut; out vec4 part;
void main() {
    world = in_position; normal = in_normal; rest = in_rest; cut = in_cut; part = in_part;
    gl_Position = clip * vec4(in_position, 1.0);
}
"""

FIGURE_FRAGMENT = COMMON + "#define TAPS 4\n" + LIGHT + """
uniform vec3 skin; uniform vec3 hair; uniform vec3 top; uniform vec3 bottom; uniform vec3 shoe;
uniform vec3 sock; uniform vec3 stripe;
uniform float sleeve; uniform float leg; uniform float waist; uniform float sock_from;
uniform float shoe_from; uniform float wrinkle; uniform float stripe_width;
in vec3 world; in vec3 normal; in vec3 rest; in vec4 cut; in vec4 part;
out vec4 shown;
// cut: metres down the arm, metres down the leg, height over the waist line, depth below the
// collar; part: hair, foot, hand, head.
void main() {
    vec3 n = normalize(normal);
    vec3 view = normalize(eye - world);
    vec3 c = skin * (0.94 + 0.10 * noise(rest * 40.0));
    float gloss = 0.06, cloth = 0.0;
    bool arm = cut.x > 0.001 || part.z > 0.5;
    bool arm_bare = cut.x > sleeve || part.z > 0.5;
    if (part.w > 0.5) {
        if (part.x > 0.0) { c = hair * (0.7 + 0.6 * noise(rest * vec3(60.0, 220.0, 25.0)));
                            gloss = 0.10; }
    } else if (part.y > 0.5 && cut.y > shoe_from) {
        c = shoe; gloss = 0.12;
    } else if (cut.y > sock_from) c = sock;
    else if (!arm && (cut.z < waist || cut.y > 0.001 && cut.z < waist + 0.02)) {
        if (cut.y < leg) { c = bottom; cloth = 1.0; }
    } else if (cut.w > 0.0 && !arm_bare) {
        c = top; cloth = 1.0;
        if (stripe_width > 0.0 && abs(cut.z - waist - 0.24) < stripe_width) c = stripe;
    }
    if (cloth > 0.0) {
        c *= 0.95 + 0.08 * noise(rest * 230.0);
        vec3 w = rest * vec3(16.0, 16.0, 26.0);
        vec3 slope = vec3(noise(w) - noise(w + vec3(0.6, 0, 0)),
                          noise(w) - noise(w + vec3(0, 0.6, 0)),
                          noise(w) - noise(w + vec3(0, 0, 0.6)));
        n = normalize(n + wrinkle * slope);
        gloss = 0.02;
    }
    if (dot(n, view) < 0.0) n = normalize(n - 1.02 * dot(n, view) * view);
    shown = vec4(finish(lit(c, n, world, gloss), world), 1.0);
}
"""

DEPTH_VERTEX = """
#version 330
uniform mat4 clip; uniform mat4 model;
in vec3 in_position;
void main() { gl_Position = clip * model * vec4(in_position, 1.0); }
"""

DEPTH_FRAGMENT = """
#version 330
void main() {}
"""

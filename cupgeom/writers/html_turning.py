"""The script and the shaders with which the page of `html` draws the cup and turns it: WebGL, nothing from elsewhere.

The eye and the light are those of `cupgeom.proof` (camera, light), written once more for the graphics processor.
"""

from __future__ import annotations

# The eye stands at EYE from the axis; its picture plane is upright. Positions are mm, y up, front toward +z.
VERTICES = """
attribute vec3 point; attribute vec3 normal; attribute vec2 place;
uniform float turn, eye, above; uniform vec4 lens;
varying vec3 at, outward; varying vec2 on;
vec3 turned(vec3 p) { float c = cos(turn), s = sin(turn); return vec3(p.x * c - p.z * s, p.y, p.x * s + p.z * c); }
void main() {
  at = turned(point); outward = turned(normal); on = place;
  float depth = eye - at.z;
  gl_Position = vec4(lens.x * at.x, lens.y * (at.y - above) + lens.z * depth, 1.02 * depth - lens.w, depth);
}
"""

PIXELS = """
precision highp float;
varying vec3 at, outward; varying vec2 on;
uniform float eye, above, metal, deep, high, ground, foot, pictured; uniform vec3 colour; uniform sampler2D wrap;
float window(vec3 r, vec2 ahead, float narrow, float low, float up, float bright, float blur) {
  float edge = 0.05 + 0.25 * blur, toward = dot(r.xz, ahead) / max(length(r.xz), 0.001);
  float side = smoothstep(0.0, edge, toward - narrow + (0.45 + blur) * edge), soft = 0.25 + 0.5 * blur;
  return bright * (1.0 - 0.55 * blur) * side * smoothstep(low, low + soft, r.y) * smoothstep(-up, soft - up, -r.y);
}
float room(vec3 r, float blur) {
  return 0.30 + 0.18 * clamp(r.y, -0.6, 1.0) + window(r, vec2(-0.80, 0.60), 0.955, -0.50, 0.75, 3.6, blur)
    + window(r, vec2(0.94, -0.34), 0.985, -0.55, 0.75, 2.4, blur);
}
vec3 encoded(vec3 light) {
  vec3 c = clamp(light, 0.0, 1.0);
  return mix(c * 12.92, 1.055 * pow(c, vec3(1.0 / 2.4)) - 0.055, step(0.0031308, c));
}
void main() {
  if (ground > 0.5) {
    float close = 0.52 * exp(-max(length(at.xz) - foot, 0.0) / (0.06 * foot));
    float away = max(length(vec2((at.x - 0.22 * foot) / 1.12, at.z + 0.10 * foot)) - 0.80 * foot, 0.0);
    float soft = 0.30 * exp(-pow(away / (0.34 * foot), 2.0));
    gl_FragColor = vec4(0.0, 0.0, 0.0, 1.0 - (1.0 - close) * (1.0 - soft));
    return;
  }
  vec3 ray = normalize(at - vec3(0.0, above, eye)), n = normalize(outward);
  float facing = clamp(-dot(ray, n), 0.0, 1.0);
  vec3 mirrored = ray + 2.0 * facing * n, light;
  float soft = 0.50 + 0.56 * clamp((dot(n, vec3(-0.46, 0.48, 0.747)) + 0.4) / 1.4, 0.0, 1.0) + 0.05 * n.y;
  if (metal > 0.5) {
    float shade = deep > 0.0 ? 0.16 + 0.62 * exp((at.y - high) / (0.9 * deep)) : 1.0;
    light = colour * (0.62 * min(room(mirrored, 0.55), 1.9) + 0.36 * soft) * shade;
  } else {
    vec3 seen = texture2D(wrap, on).rgb;
    vec3 under = pictured > 0.5
      ? mix(seen / 12.92, pow((seen + 0.055) / 1.055, vec3(2.4)), step(0.04045, seen)) : colour;
    float share = 0.04 + 0.96 * pow(1.0 - facing, 5.0);
    light = under * soft * (1.0 - share) + room(mirrored, 0.0) * share;
    light *= 0.78 + 0.22 * clamp(at.y / 14.0, 0.0, 1.0);
  }
  gl_FragColor = vec4(encoded(light), 1.0);
}
"""

SCRIPT = """
'use strict';
const data = JSON.parse(document.getElementById('cup-data').textContent);
const canvas = document.getElementById('cup'), still = document.getElementById('still');
const spinButton = document.getElementById('spin'), calm = matchMedia('(prefers-reduced-motion: reduce)');
const FACTS = {alpha: false, antialias: true};
const gl = canvas.getContext('webgl2', FACTS) || canvas.getContext('webgl', FACTS);
let turn = 0, spinning = false, waiting = false, last = 0, held = null;

const bytes = text => Uint8Array.from(atob(text), c => c.charCodeAt(0)).buffer;
const sides = [[0, 'front'], [90, 'right'], [180, 'back'], [-90, 'left'], [-180, 'back']];
const inWords = deg => {
  const near = sides.reduce((a, b) => Math.abs(a[0] - deg) <= Math.abs(b[0] - deg) ? a : b);
  const off = Math.round(deg - near[0]);
  return near[1] + (off ? `, ${Math.abs(off)} degrees to the ${off > 0 ? 'right' : 'left'}` : '');
};

function compiled(kind, text) {
  const shader = gl.createShader(kind);
  gl.shaderSource(shader, text); gl.compileShader(shader);
  if (!gl.getShaderParameter(shader, gl.COMPILE_STATUS)) throw new Error(gl.getShaderInfoLog(shader));
  return shader;
}

function start() {
  if (!(gl instanceof WebGLRenderingContext) || gl.getExtension('OES_element_index_uint')) prepare(); else return;
  canvas.hidden = false; document.getElementById('controls').hidden = false;
  if (still) still.hidden = true;
  if (!calm.matches) spin(true);
  show(0);
}

let parts = [], uniforms = {}, program;
function prepare() {
  program = gl.createProgram();
  gl.attachShader(program, compiled(gl.VERTEX_SHADER, data.vertices));
  gl.attachShader(program, compiled(gl.FRAGMENT_SHADER, data.pixels));
  ['point', 'normal', 'place'].forEach((name, at) => gl.bindAttribLocation(program, at, name));
  gl.linkProgram(program); gl.useProgram(program);
  for (const name of ['turn', 'eye', 'above', 'lens', 'metal', 'deep', 'high', 'ground', 'foot', 'pictured', 'colour'])
    uniforms[name] = gl.getUniformLocation(program, name);
  parts = data.parts.map(part => {
    const buffers = ['points', 'directions', 'places', 'faces'].map(key => {
      if (!part[key]) return null;
      const buffer = gl.createBuffer(), kind = key === 'faces' ? gl.ELEMENT_ARRAY_BUFFER : gl.ARRAY_BUFFER;
      gl.bindBuffer(kind, buffer); gl.bufferData(kind, bytes(part[key]), gl.STATIC_DRAW);
      return buffer;
    });
    const wrap = part.picture ? texture(part.picture) : null;
    return Object.assign({}, part, {buffers, count: part.corners, texture: wrap});
  });
  gl.enable(gl.DEPTH_TEST);
}

function texture(source) {
  const made = gl.createTexture(), image = new Image();
  gl.bindTexture(gl.TEXTURE_2D, made);
  gl.texImage2D(gl.TEXTURE_2D, 0, gl.RGBA, 1, 1, 0, gl.RGBA, gl.UNSIGNED_BYTE, new Uint8Array([255, 255, 255, 255]));
  image.onload = () => {
    gl.bindTexture(gl.TEXTURE_2D, made);
    gl.pixelStorei(gl.UNPACK_COLORSPACE_CONVERSION_WEBGL, gl.NONE);
    gl.texImage2D(gl.TEXTURE_2D, 0, gl.RGBA, gl.RGBA, gl.UNSIGNED_BYTE, image);
    const many = !(gl instanceof WebGLRenderingContext);
    gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_MIN_FILTER, many ? gl.LINEAR_MIPMAP_LINEAR : gl.LINEAR);
    gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_WRAP_S, gl.CLAMP_TO_EDGE);
    gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_WRAP_T, gl.CLAMP_TO_EDGE);
    const fine = gl.getExtension('EXT_texture_filter_anisotropic');
    if (fine) gl.texParameterf(gl.TEXTURE_2D, fine.TEXTURE_MAX_ANISOTROPY_EXT, 8);
    if (many) gl.generateMipmap(gl.TEXTURE_2D);
    ready();
  };
  image.src = 'data:image/png;base64,' + source;
  return made;
}
let awaited = data.parts.filter(part => part.picture).length;
function ready() { awaited -= 1; if (awaited === 0) document.body.dataset.ready = 'yes'; ask(); }

function draw() {
  const dense = Math.min(window.devicePixelRatio || 1, 2), box = canvas.getBoundingClientRect();
  const width = Math.max(1, Math.round(box.width * dense)), height = Math.max(1, Math.round(box.height * dense));
  if (canvas.width !== width || canvas.height !== height) { canvas.width = width; canvas.height = height; }
  const {eye, above, widest, low, high, far} = data.camera;
  const focal = 0.92 * Math.min(width / (2 * widest), height / (high - low));
  const near = (eye - far) / 2;
  gl.viewport(0, 0, width, height);
  gl.clearColor(1, 1, 1, 1); gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
  gl.uniform1f(uniforms.turn, turn * Math.PI / 180);
  gl.uniform1f(uniforms.eye, eye); gl.uniform1f(uniforms.above, above);
  gl.uniform4f(uniforms.lens, 2 * focal / width, 2 * focal / height, -focal * (high + low) / height, 2.02 * near);
  gl.uniform1f(uniforms.foot, data.foot); gl.uniform1f(uniforms.high, data.high);
  for (const part of parts) {
    const [points, directions, places, faces] = part.buffers;
    [[points, 3], [directions, 3], [places, 2]].forEach(([buffer, size], at) => {
      if (!buffer) { gl.disableVertexAttribArray(at); return; }
      gl.bindBuffer(gl.ARRAY_BUFFER, buffer); gl.enableVertexAttribArray(at);
      gl.vertexAttribPointer(at, size, gl.FLOAT, false, 0, 0);
    });
    if (part.ground) { gl.enable(gl.BLEND); gl.blendFunc(gl.SRC_ALPHA, gl.ONE_MINUS_SRC_ALPHA); }
    gl.uniform1f(uniforms.ground, part.ground ? 1 : 0); gl.uniform1f(uniforms.metal, part.metal ? 1 : 0);
    gl.uniform1f(uniforms.deep, part.deep); gl.uniform1f(uniforms.pictured, part.texture ? 1 : 0);
    gl.uniform3fv(uniforms.colour, part.colour);
    if (part.texture) gl.bindTexture(gl.TEXTURE_2D, part.texture);
    gl.bindBuffer(gl.ELEMENT_ARRAY_BUFFER, faces);
    gl.drawElements(gl.TRIANGLES, part.count, gl.UNSIGNED_INT, 0);
    gl.disable(gl.BLEND);
  }
}

function frame(now) {
  waiting = false;
  if (spinning) { show(turn - (last ? Math.min(now - last, 100) : 0) * 0.018, true); last = now; }
  draw();
}
function ask() { if (!waiting) { waiting = true; requestAnimationFrame(frame); } }
function show(deg, quietly) {
  turn = ((deg + 180) % 360 + 360) % 360 - 180;
  if (!quietly) {
    canvas.setAttribute('aria-valuenow', String(Math.round(turn)));
    canvas.setAttribute('aria-valuetext', inWords(turn));
  }
  ask();
}
function spin(on) {
  spinning = on; last = 0;
  spinButton.textContent = on ? 'Stop turning' : 'Turn by itself';
  spinButton.setAttribute('aria-pressed', String(on));
  show(turn);
}
function by(deg) { spin(false); show(turn + deg); }

const KEYS = {ArrowLeft: () => by(-15), ArrowRight: () => by(15), ArrowDown: () => by(-5), ArrowUp: () => by(5),
  Home: () => by(-turn), End: () => by(180 - turn), ' ': () => spin(!spinning)};
canvas.addEventListener('keydown', event => {
  const act = KEYS[event.key];
  if (act && !event.ctrlKey && !event.altKey && !event.metaKey) { act(); event.preventDefault(); }
});
canvas.addEventListener('pointerdown', event => {
  held = event.clientX; canvas.setPointerCapture(event.pointerId); spin(false);
});
canvas.addEventListener('pointermove', event => {
  if (held === null) return;
  show(turn - (event.clientX - held) * 0.5); held = event.clientX;
});
for (const end of ['pointerup', 'pointercancel']) canvas.addEventListener(end, () => { held = null; });
for (const button of document.querySelectorAll('button[data-turn]'))
  button.addEventListener('click', () => { spin(false); show(Number(button.dataset.turn)); });
spinButton.addEventListener('click', () => spin(!spinning));
calm.addEventListener('change', () => { if (calm.matches) spin(false); });
new ResizeObserver(ask).observe(canvas);
if (gl) start();
"""

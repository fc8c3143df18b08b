// SPDX-License-Identifier: Apache-2.0
// Draws a weighed sum of parts on a canvas: by WebGL2 where there is one, else by plain arithmetic.
import { halfTable } from './half';
import { weighPlain } from './show';
import type { Setting } from './show';

export interface Drawer {
  readonly by: 'WebGL2' | 'arithmetic';
  draw: (setting: Setting) => void;
  dispose: () => void;
}

const MOST_PARTS = 24;

const VERTEX = `#version 300 es
void main() {
  vec2 corner = vec2(float((gl_VertexID & 1) << 2) - 1.0, float((gl_VertexID & 2) << 1) - 1.0);
  gl_Position = vec4(corner, 0.0, 1.0);
}`;

const FRAGMENT = `#version 300 es
precision highp float;
precision highp int;
precision highp sampler2DArray;
uniform sampler2DArray parts;
uniform float weights[${MOST_PARTS}];
uniform int count;
uniform int height;
uniform mat3 shown;
out vec4 colour;
vec3 encode(vec3 x) {
  x = clamp(x, 0.0, 1.0);
  return mix(12.92 * x, 1.055 * pow(x, vec3(1.0 / 2.4)) - 0.055, step(0.0031308, x));
}
void main() {
  ivec2 at = ivec2(int(gl_FragCoord.x), height - 1 - int(gl_FragCoord.y));
  vec3 sum = vec3(0.0);
  float clipped = 0.0;
  for (int i = 0; i < count; i++) {
    if (weights[i] == 0.0) continue;
    vec4 part = texelFetch(parts, ivec3(at, i), 0);
    sum += weights[i] * part.rgb;
    clipped += part.a;
  }
  vec3 x = shown * sum;
  if (clipped > 0.0) x = vec3(max(x.r, max(x.g, x.b)));
  colour = vec4(encode(x), 1.0);
}`;

function compile(gl: WebGL2RenderingContext): WebGLProgram | null {
  const program = gl.createProgram();
  for (const [kind, source] of [[gl.VERTEX_SHADER, VERTEX], [gl.FRAGMENT_SHADER, FRAGMENT]] as const) {
    const shader = gl.createShader(kind);
    if (!shader) return null;
    gl.shaderSource(shader, source);
    gl.compileShader(shader);
    gl.attachShader(program, shader);
  }
  gl.linkProgram(program);
  return gl.getProgramParameter(program, gl.LINK_STATUS) ? program : null;
}

function byWebGL(canvas: HTMLCanvasElement, width: number, height: number, parts: readonly Uint16Array[]):
  Drawer | null {
  if (parts.length > MOST_PARTS) return null;
  const gl = canvas.getContext('webgl2', { alpha: false, antialias: false, depth: false, preserveDrawingBuffer: true });
  if (!gl || gl.getParameter(gl.MAX_ARRAY_TEXTURE_LAYERS) < parts.length ||
    gl.getParameter(gl.MAX_TEXTURE_SIZE) < Math.max(width, height)) return null;
  const program = compile(gl);
  if (!program) return null;
  const texture = gl.createTexture();
  gl.bindTexture(gl.TEXTURE_2D_ARRAY, texture);
  gl.texStorage3D(gl.TEXTURE_2D_ARRAY, 1, gl.RGBA16F, width, height, parts.length);
  gl.texParameteri(gl.TEXTURE_2D_ARRAY, gl.TEXTURE_MIN_FILTER, gl.NEAREST);
  gl.texParameteri(gl.TEXTURE_2D_ARRAY, gl.TEXTURE_MAG_FILTER, gl.NEAREST);
  parts.forEach((part, layer) => {
    gl.texSubImage3D(gl.TEXTURE_2D_ARRAY, 0, 0, 0, layer, width, height, 1, gl.RGBA, gl.HALF_FLOAT, part);
  });
  if (gl.getError() !== gl.NO_ERROR) return null;
  gl.useProgram(program);
  const at = (name: string): WebGLUniformLocation | null => gl.getUniformLocation(program, name);
  gl.uniform1i(at('count'), parts.length);
  gl.uniform1i(at('height'), height);
  gl.viewport(0, 0, width, height);
  const weightsAt = at('weights');
  const shownAt = at('shown');
  return {
    by: 'WebGL2',
    draw: (setting) => {
      const weights = new Float32Array(MOST_PARTS);
      weights.set(setting.weights.slice(0, MOST_PARTS));
      gl.uniform1fv(weightsAt, weights);
      gl.uniformMatrix3fv(shownAt, true, setting.matrix.flat());
      gl.drawArrays(gl.TRIANGLES, 0, 3);
    },
    dispose: () => {
      gl.deleteTexture(texture);
      gl.deleteProgram(program);
    },
  };
}

function byArithmetic(canvas: HTMLCanvasElement, width: number, height: number, parts: readonly Uint16Array[]):
  Drawer | null {
  const context = canvas.getContext('2d');
  if (!context) return null;
  const image = context.createImageData(width, height);
  const table = halfTable();
  return {
    by: 'arithmetic',
    draw: (setting) => {
      weighPlain(parts, table, setting, image.data);
      context.putImageData(image, 0, 0);
    },
    dispose: () => undefined,
  };
}

/** The canvas must not have been drawn on. With plain, WebGL is not tried: a canvas that failed at it can do no other. */
export function drawerFor(canvas: HTMLCanvasElement, width: number, height: number, parts: readonly Uint16Array[],
  plain: boolean): Drawer | null {
  canvas.width = width;
  canvas.height = height;
  return plain ? byArithmetic(canvas, width, height, parts) : byWebGL(canvas, width, height, parts);
}

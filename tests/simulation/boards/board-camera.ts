/** A pinhole camera with radial distortion that looks at a flat board; independent of the code under test. */

export interface CameraOptions {
  readonly widthPx: number;
  readonly heightPx: number;
  /** Outline to keep in view, mm. */
  readonly sizeMm: readonly [number, number];
  /** Share of the picture that the outline takes, along the side where it is tightest. */
  readonly fill: number;
  readonly tiltDeg: number;
  readonly leanDeg: number;
  readonly rollDeg: number;
  /** Principal distance; share of the picture's longer side. */
  readonly focal: number;
  /** Radial displacement at the corner of the picture; share of its radius. */
  readonly distortion: number;
  /** Where in the room left over the outline lies, -1..1 each way. */
  readonly offset: readonly [number, number];
}

export interface BoardCamera {
  readonly project: (xMm: number, yMm: number) => readonly [number, number];
  readonly unproject: (uPx: number, vPx: number) => readonly [number, number];
}

export function placeCamera(options: CameraOptions): BoardCamera {
  const { widthPx, heightPx, sizeMm } = options;
  const rad = Math.PI / 180;
  const [tilt, lean, roll] = [options.tiltDeg, options.leanDeg, options.rollDeg].map(
    (deg) => deg * rad,
  );
  const f = options.focal * Math.max(widthPx, heightPx);
  const radius = Math.hypot(widthPx, heightPx) / 2;
  const [cu, cv] = [(widthPx - 1) / 2, (heightPx - 1) / 2];
  // Columns of the rotation for the board's x and y: turned to the lean, tilted, turned back, rolled.
  const column = (x: number, y: number) => {
    const a = Math.cos(lean) * x + Math.sin(lean) * y;
    const c = -Math.sin(lean) * x + Math.cos(lean) * y;
    const a2 = a * Math.cos(tilt);
    return [
      Math.cos(roll - lean) * a2 + Math.sin(roll - lean) * c,
      -Math.sin(roll - lean) * a2 + Math.cos(roll - lean) * c,
      a * Math.sin(tilt),
    ];
  };
  const cx = column(1, 0);
  const cy = column(0, 1);
  const at = [0, 0, 2 * Math.max(...sizeMm)];
  const flat = (x: number, y: number): [number, number] => {
    const p = [0, 1, 2].map((k) => cx[k] * x + cy[k] * y + at[k]);
    return [(f * p[0]) / p[2], (-f * p[1]) / p[2]];
  };
  const bend = ([du, dv]: readonly [number, number]): [number, number] => {
    let s = 1;
    for (let k = 0; k < 25; k++) {
      s = 1 / (1 + (-options.distortion * s * s * (du * du + dv * dv)) / radius ** 2);
    }
    return [cu + s * du, cv + s * dv];
  };
  const project = (x: number, y: number) => bend(flat(x - sizeMm[0] / 2, y - sizeMm[1] / 2));
  const outline = () => {
    const points: (readonly [number, number])[] = [];
    for (let k = 0; k <= 6; k++) {
      const [x, y] = [(sizeMm[0] * k) / 6, (sizeMm[1] * k) / 6];
      points.push(project(x, 0), project(x, sizeMm[1]), project(0, y), project(sizeMm[0], y));
    }
    const us = points.map((p) => p[0]);
    const vs = points.map((p) => p[1]);
    return {
      u: (Math.min(...us) + Math.max(...us)) / 2 - cu,
      v: (Math.min(...vs) + Math.max(...vs)) / 2 - cv,
      wide: Math.max(...us) - Math.min(...us),
      high: Math.max(...vs) - Math.min(...vs),
    };
  };
  for (let round = 0; round < 40; round++) {
    const o = outline();
    at[0] -= (0.8 * o.u * at[2]) / f;
    at[1] += (0.8 * o.v * at[2]) / f;
    at[2] *= (Math.max(o.wide / widthPx, o.high / heightPx) / options.fill) ** 0.8;
  }
  const centred = outline();
  const slack = [widthPx - centred.wide, heightPx - centred.high];
  let [du, dv] = [0, 1].map((k) => 0.48 * options.offset[k] * slack[k]);
  const home = [...at];
  for (let round = 0; round < 8; round++) {
    at[0] = home[0] + (du * at[2]) / f;
    at[1] = home[1] - (dv * at[2]) / f;
    const o = outline();
    const fits =
      Math.abs(o.u) + o.wide / 2 < 0.493 * widthPx && Math.abs(o.v) + o.high / 2 < 0.493 * heightPx;
    if (fits) break;
    du *= 0.7;
    dv *= 0.7;
  }
  const h = [
    f * cx[0],
    f * cy[0],
    f * at[0],
    -f * cx[1],
    -f * cy[1],
    -f * at[1],
    cx[2],
    cy[2],
    at[2],
  ];
  const inverse = invert3(h);
  const unproject = (u: number, v: number): [number, number] => {
    let [x, y] = [u - cu, v - cv];
    const swell = 1 - (options.distortion * (x * x + y * y)) / radius ** 2;
    x *= swell;
    y *= swell;
    const w = inverse[6] * x + inverse[7] * y + inverse[8];
    return [
      (inverse[0] * x + inverse[1] * y + inverse[2]) / w + sizeMm[0] / 2,
      (inverse[3] * x + inverse[4] * y + inverse[5]) / w + sizeMm[1] / 2,
    ];
  };
  return { project, unproject };
}

function invert3(m: readonly number[]): number[] {
  const [a, b, c, d, e, f, g, h, i] = m;
  const det = a * (e * i - f * h) - b * (d * i - f * g) + c * (d * h - e * g);
  return [
    e * i - f * h,
    c * h - b * i,
    b * f - c * e,
    f * g - d * i,
    a * i - c * g,
    c * d - a * f,
    d * h - e * g,
    b * g - a * h,
    a * e - b * d,
  ].map((value) => value / det);
}

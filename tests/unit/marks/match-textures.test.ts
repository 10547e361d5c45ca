import { describe, expect, it } from 'vitest';
import { type BoardTexture, boardTexture } from '../../../src/marks/board-texture.js';
import { matchTextures } from '../../../src/marks/match-textures.js';
import { crossingsAt, moveCell } from '../../../src/marks/move-cells.js';
import { joinTextures } from '../../../src/marks/texture-raster.js';
import {
  drawScene,
  evenly,
  gridStrokes,
  randomFrom,
  type Scene,
  smoothNoise,
} from './draw-scene.js';

const PITCH = 50;
const COLUMNS = 24;
const ROWS = 16;
const WIDTH = 680;
const HEIGHT = 510;
const plain = gridStrokes(evenly(COLUMNS, PITCH), evenly(ROWS, PITCH));

type Board = (xMm: number, yMm: number) => number;

/** Noise of the given reach along X and along Y; mm. */
function grain(seed: number, ...parts: readonly (readonly [number, number, number])[]): Board {
  const noise = parts.map((_, i) => smoothNoise(randomFrom(seed + i)));
  return (x, y) =>
    parts.reduce((sum, [grey, alongX, alongY], i) => {
      return sum + grey * noise[i](x / alongX + 11 * i, y / alongY + 7 * i);
    }, 150);
}

const wood = grain(1, [6, 60, 2.5], [4, 150, 20]);
const fibres = grain(5, [4, 4, 4], [5, 23, 23]);
const boards: readonly Board[] = [wood, fibres];

interface Look {
  readonly board: Board;
  readonly aimMm: readonly [number, number];
  readonly rollDeg: number;
  readonly seed: number;
  readonly shadow?: boolean;
  /** The lattice's own cells, from the program's: turned by so many quarters, then moved. */
  readonly turns?: 0 | 1 | 2 | 3;
  readonly shift?: readonly [number, number];
}

const drawn = new Map<string, Scene>();

/** The same picture serves many tests. */
function draw(options: Pick<Look, 'board' | 'aimMm' | 'rollDeg' | 'seed'>, shadow: boolean): Scene {
  const key = `${boards.indexOf(options.board)} ${options.seed} ${shadow}`;
  const known = drawn.get(key);
  if (known !== undefined && boards.includes(options.board)) return known;
  const scene = drawScene({
    width: WIDTH,
    height: HEIGHT,
    strokes: plain,
    acrossMm: 430,
    borderMm: [60, 60, 60, 60],
    ...options,
    shade: (u, v) => (shadow && u + 0.4 * v > 0.6 * WIDTH ? 0.75 : 1),
  });
  drawn.set(key, scene);
  return scene;
}

/** Square-on, so that the truth is affine. */
function look({ turns = 0, shift = [0, 0], shadow = false, ...options }: Look) {
  const scene = draw(options, shadow);
  const [c, s] = [
    [1, 0],
    [0, 1],
    [-1, 0],
    [0, -1],
  ][turns];
  /** Program cells of a place of the lattice: turned back. */
  const program = (a: number, b: number) => {
    const [x, y] = [a - shift[0], b - shift[1]];
    return [c * x + s * y, -s * x + c * y] as const;
  };
  const pixel = (a: number, b: number) => {
    const [x, y] = program(a, b);
    return scene.truth(x * PITCH, y * PITCH);
  };
  const [u, v] = pixel(0, 0);
  const [ua, va] = pixel(1, 0);
  const [ub, vb] = pixel(0, 1);
  const map = {
    homography: Float64Array.of(ua - u, ub - u, u, va - v, vb - v, v, 0, 0, 1),
    centrePx: [(WIDTH - 1) / 2, (HEIGHT - 1) / 2] as const,
    radiusPx: Math.hypot(WIDTH, HEIGHT) / 2,
    k1: 0,
    k2: 0,
  };
  const cells: [number, number][] = [];
  for (let a = -40; a < 40; a++) {
    for (let b = -40; b < 40; b++) {
      const corners = [0, 1].flatMap((i) => [0, 1].map((j) => pixel(a + i, b + j)));
      const isInside = corners.every(
        ([p, q]) => p >= 0 && q >= 0 && p <= WIDTH - 1 && q <= HEIGHT - 1,
      );
      const [x, y] = program(a + 0.5, b + 0.5);
      const isOnGrid = x > 0 && y > 0 && x < COLUMNS - 1 && y < ROWS - 1;
      if (isInside && isOnGrid) cells.push([a, b]);
    }
  }
  const view = { map, cells };
  return { view, program, pixel, texture: boardTexture(scene.grey, view) };
}

function isClear(known: BoardTexture, seen: BoardTexture): boolean {
  return matchTextures(known, seen)?.clear ?? false;
}

const FIRST = { aimMm: [290, 330], rollDeg: 12, seed: 1 } as const;
const SECOND = { aimMm: [510, 380], rollDeg: 131, seed: 2 } as const;
const THIRD = { aimMm: [740, 420], rollDeg: 77, seed: 3 } as const;
const FAR = { aimMm: [900, 330], rollDeg: 40, seed: 4 } as const;

describe('the bare board of two photos that overlap', () => {
  for (const [name, board, turns] of [
    ['grained', wood, 0],
    ['fibrous', fibres, 1],
    ['grained', wood, 2],
    ['fibrous', fibres, 3],
  ] as const) {
    it(`tells their place on a ${name} board, the lattice turned by ${turns} quarters`, () => {
      const { texture } = look({ board, ...FIRST });
      const seen = look({ board, ...SECOND, turns, shift: [3, -2] });
      const match = matchTextures(texture, seen.texture);
      expect(match?.clear).toBe(true);
      if (match === undefined) return;
      for (const [a, b] of seen.view.cells) {
        const [x, y] = moveCell(match, [a, b]);
        const [trueX, trueY] = seen.program(a, b);
        expect(Math.hypot(x - trueX, y - trueY)).toBeLessThan(1e-9);
      }
      for (const { xMm, yMm, uPx, vPx } of crossingsAt(plain, seen.view, match)) {
        const [u, v] = look({ board, ...SECOND }).pixel(xMm / PITCH, yMm / PITCH);
        expect(Math.hypot(uPx - u, vPx - v)).toBeLessThan(1e-6);
      }
    });
  }

  it('tells their place although the same shadow lies across both pictures', () => {
    const { texture } = look({ board: fibres, ...FIRST, shadow: true });
    const seen = look({ board: fibres, ...SECOND, shadow: true });
    const match = matchTextures(texture, seen.texture);
    expect(match).toMatchObject({ turns: 0, shift: [0, 0], clear: true });
  });

  it('tells nothing where the board is of one tone', () => {
    const board = () => 150;
    expect(isClear(look({ board, ...FIRST }).texture, look({ board, ...SECOND }).texture)).toBe(
      false,
    );
  });

  it('tells nothing where its grain runs on unchanged from one end to the other', () => {
    const board = grain(9, [8, 5000, 4]);
    expect(isClear(look({ board, ...FIRST }).texture, look({ board, ...SECOND }).texture)).toBe(
      false,
    );
  });
});

describe('photos that share no part of the board', () => {
  for (const [name, board] of [
    ['grained', wood],
    ['fibrous', fibres],
    ['long-grained', grain(3, [6, 250, 3], [4, 400, 20])],
  ] as const) {
    it(`are not laid on one another on a ${name} board`, () => {
      expect(isClear(look({ board, ...FIRST }).texture, look({ board, ...FAR }).texture)).toBe(
        false,
      );
    });
  }

  it('are not laid on one another where the same shadow lies across both', () => {
    const known = look({ board: fibres, ...FIRST, shadow: true });
    const seen = look({ board: fibres, ...FAR, shadow: true });
    expect(isClear(known.texture, seen.texture)).toBe(false);
  });

  it('are not laid on one another where they show two boards', () => {
    const known = look({ board: fibres, ...FIRST });
    const seen = look({ board: grain(77, [4, 4, 4], [5, 23, 23]), ...SECOND });
    expect(isClear(known.texture, seen.texture)).toBe(false);
  });

  it('are joined by one between them', () => {
    const first = look({ board: fibres, ...FIRST }).texture;
    const between = look({ board: fibres, ...SECOND }).texture;
    const last = look({ board: fibres, ...THIRD }).texture;
    expect(isClear(first, last)).toBe(false);
    expect(matchTextures(joinTextures(first, between), last)).toMatchObject({
      turns: 0,
      shift: [0, 0],
      clear: true,
    });
  });
});

import { describe, expect, it } from 'vitest';
import { sampleSegments } from '../../../src/marks/index.js';
import { cutStrokes, describeGrid } from '../../../src/program/index.js';
import { unwrap } from '../../../src/quantity/index.js';
import { evenly, gridStrokes, straight } from './draw-scene.js';

const LINES = gridStrokes(evenly(9, 50), evenly(7, 50));

describe('a sample of the segments', () => {
  it('has some of every stroke, about a third of all, and keeps their ids', () => {
    const { segments } = cutStrokes(LINES, unwrap(describeGrid(LINES)));
    const sample = sampleSegments(segments);
    const strokes = (list: typeof segments) => new Set(list.map(({ strokeId }) => strokeId)).size;
    expect(strokes(sample)).toBe(strokes(segments));
    expect(sample.length / segments.length).toBeGreaterThan(0.25);
    expect(sample.length / segments.length).toBeLessThan(0.45);
    expect(sample.every((one) => segments[one.id] === one)).toBe(true);
  });

  it('keeps rungs, whose neighbours must be known', () => {
    const rungs = [5, 14, 23, 32, 41].map((x, i) => straight(100 + i, 50 + x, 60, 50 + x, 90));
    const strokes = [...LINES, ...rungs];
    const { segments } = cutStrokes(strokes, unwrap(describeGrid(strokes)));
    const ofRungs = (list: typeof segments) => list.filter(({ isRung }) => isRung).length;
    expect(ofRungs(segments)).toBeGreaterThanOrEqual(5);
    expect(ofRungs(sampleSegments(segments))).toBe(ofRungs(segments));
  });
});

/** The machine file: what the owner knows of the machine and how much error he accepts. */

import { z } from 'zod';
import { MATERIALS } from '../thermal-expansion.js';

const towardEnd = z.enum(['+', '-']);
const axisSchema = z.strictObject({
  drive: z.enum(['screw', 'rack', 'belt']).optional(),
  stepsPerMm: z.number().positive().optional(),
  /** Travel per turn of a screw, mm. */
  lead: z.number().positive().optional(),
  /** Travel per turn of a rack's pinion, mm. */
  pinionTravel: z.number().positive().optional(),
  /** Travel per turn of a belt's pulley, mm. */
  pulleyTravel: z.number().positive().optional(),
  /** Of a screw: distance from thread to thread; of a belt: from tooth to tooth; mm. */
  pitch: z.number().positive().optional(),
  /** Of a screw: how many threads run side by side. */
  starts: z.number().int().positive().optional(),
  /** Of the pinion or the pulley. */
  teeth: z.number().int().positive().optional(),
  /** Of the pinion, in its normal section, mm. */
  module: z.number().positive().optional(),
  /** Of helical teeth, degrees; 0 where absent. */
  helixAngle: z.number().min(0).max(60).optional(),
  /** Of the motor, microsteps counted. */
  stepsPerTurn: z.number().positive().optional(),
  /** Turns of the motor per turn of screw, pinion or pulley; 1 where absent. */
  reduction: z.number().positive().optional(),
  /** How many motors move this axis. */
  drives: z.union([z.literal(1), z.literal(2)]).optional(),
  /** Between the two drives, mm. */
  driveSpacing: z.number().positive().optional(),
  /** Of the screw or rack, whose length is the axis's scale; steel where absent. */
  material: z.enum(MATERIALS).optional(),
});

/** Limits where the machine file gives none: common practice for wood routers, no source. mm/m, mm. */
export const DEFAULT_LIMITS = {
  squareness: 0.2,
  scale: 0.2,
  lostMotion: 0.05,
  straightness: 0.1,
} as const;

export const machineSchema = z.strictObject({
  name: z.string().optional(),
  travel: z.strictObject({ x: z.number().positive(), y: z.number().positive() }).optional(),
  gantryAxis: z.enum(['x', 'y', 'none']).optional(),
  homing: z.strictObject({ x: towardEnd.optional(), y: towardEnd.optional() }).optional(),
  axes: z.strictObject({ x: axisSchema.optional(), y: axisSchema.optional() }).optional(),
  limits: z
    .strictObject({
      squareness: z.number().positive().optional(),
      scale: z.number().positive().optional(),
      lostMotion: z.number().positive().optional(),
      straightness: z.number().positive().optional(),
    })
    .optional(),
  bed: z.strictObject({ material: z.string().optional() }).optional(),
  settings: z.string().optional(),
});

export type AxisFile = z.infer<typeof axisSchema>;
export type MachineFile = z.infer<typeof machineSchema>;

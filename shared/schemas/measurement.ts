/** The saved result of a measurement, `measurement.json`: the schema and, inferred from it, the type. */

import { z } from 'zod';
import { photoVerdictSchema } from './photo-verdict.js';

export const MEASUREMENT_SCHEMA_ID = 'gantrue/measurement/1';

/** Coverage factor of every expanded uncertainty (GUM 6.3, normal distribution, about 95 %). */
export const COVERAGE_FACTOR = 2;

const finite = z.number();
const uncertainty = z.number().nonnegative();

const unitSchema = z.enum(['rad', 'rad/m', 'mm', '1']);

/** Where the variance of an estimate comes from; the shares sum to one. */
const shareSchema = z.object({
  photos: z.number(),
  marks: z.number(),
  evidence: z.number(),
  camera: z.number(),
  /** What crept while the grid was marked. */
  drift: z.number().optional(),
});

const estimateSchema = z.object({
  value: finite,
  unit: unitSchema,
  /** Standard uncertainty. */
  u: uncertainty,
  k: z.literal(COVERAGE_FACTOR),
  /** Expanded uncertainty k·u. */
  U: uncertainty,
  state: z.enum(['measured', 'weak']),
  /** Why it is only weak. */
  reason: z.string().optional(),
  /** What would make it measured. */
  add: z.array(z.string()).optional(),
  share: shareSchema.optional(),
});

const undeterminedSchema = z.object({
  state: z.literal('undetermined'),
  reason: z.string(),
  add: z.array(z.string()),
});

export const quantitySchema = z.union([estimateSchema, undeterminedSchema]);

const periodicSchema = z.intersection(
  quantitySchema,
  z.object({ period: z.number().positive().optional(), phase: finite.optional() }),
);

const withUncertaintySchema = z.object({ value: finite, u: uncertainty });

const cornerSchema = z.object({
  /** Commanded crossing, mm. */
  x: finite,
  y: finite,
  /** Sensor pixel. */
  u: finite,
  v: finite,
});

/** What is left between the marks of a photo and the adjusted grid. */
const residualSchema = z.object({
  /** Of residuals in units of their standard deviation: equal bars between `from` and `to`, what is beyond in the outermost. */
  counts: z.array(z.number().int()),
  from: finite,
  to: finite,
  /** Means along the rows (u) and the columns (v), px, in cells row by row over the stored picture; null: too few marks. */
  map: z.object({
    columns: z.number().int(),
    rows: z.number().int(),
    u: z.array(finite.nullable()),
    v: z.array(finite.nullable()),
  }),
});

export const photoSchema = z.object({
  file: z.string(),
  sha256: z.string().optional(),
  used: z.boolean(),
  /** Failure code and words where it was not used. */
  code: z.string().optional(),
  reason: z.string().optional(),
  hint: z.string().optional(),
  widthPx: z.number().int().optional(),
  heightPx: z.number().int().optional(),
  takenAt: z.string().optional(),
  /** Index into `camera`. */
  camera: z.number().int().optional(),
  /** Width of the marks' blurred edge (10 % to 90 %), px. */
  sharpness: finite.optional(),
  polarity: z.enum(['dark', 'bright', 'mixed']).optional(),
  strokesFound: z.number().int().optional(),
  segmentsFound: z.number().int().optional(),
  segmentsPredicted: z.number().int().optional(),
  reprojectionRmsPx: finite.optional(),
  /** Angle between the camera's axis and the board's normal, rad. */
  tiltRad: finite.optional(),
  /** Turn of the sensor's rows against the board's X, rad, counter-clockwise seen from above. */
  rollRad: finite.optional(),
  /** Board millimetres per pixel near the grid's middle. */
  mmPerPx: finite.optional(),
  corners: z.array(cornerSchema).optional(),
  residuals: residualSchema.optional(),
  /** What the picture by itself is worth, and what would make it better. */
  verdict: photoVerdictSchema.optional(),
  overlay: z.string().optional(),
  rectified: z.string().optional(),
});

/** A term that was held, not adjusted, has u = 0. */
const cameraSchema = z.object({
  make: z.string().optional(),
  model: z.string().optional(),
  widthPx: z.number().int(),
  heightPx: z.number().int(),
  photos: z.number().int(),
  /** Where the starting focal length came from. */
  focalLengthFrom: z.enum(['exif', 'search']),
  f: withUncertaintySchema,
  cx: withUncertaintySchema,
  cy: withUncertaintySchema,
  k1: withUncertaintySchema,
  k2: withUncertaintySchema,
  k3: withUncertaintySchema,
  p1: withUncertaintySchema,
  p2: withUncertaintySchema,
  distortionCentreX: withUncertaintySchema,
  distortionCentreY: withUncertaintySchema,
  aspect: withUncertaintySchema,
  skew: withUncertaintySchema,
});

const placementSchema = z.object({
  program: z.string(),
  sha256: z.string().optional(),
  /** Turn on the board against the first placement, rad. */
  rotation: withUncertaintySchema,
  shift: z.object({ x: withUncertaintySchema, y: withUncertaintySchema }),
  linesAtX: z.array(finite),
  linesAtY: z.array(finite),
  strokes: z.number().int(),
  /** True where both approach directions of a line occur, per axis measured across. */
  bothApproaches: z.object({ x: z.boolean(), y: z.boolean() }),
});

/** The scales as the machine would have them at 20 °C (ISO 1). */
const scaleAt20Schema = z.object({
  /** Of the machine when it marked, °C. */
  markedAt: finite,
  x: estimateSchema.optional(),
  y: estimateSchema.optional(),
});

const pointsSchema = z.object({
  file: z.string(),
  sha256: z.string(),
  /** Nodes in the file, and how many of them were left out as outliers. */
  points: z.number().int(),
  outliers: z.number().int(),
  /** Root mean square of what is left of each coordinate, mm. */
  rmsMm: finite,
});

/** A file of pixel positions that other software found. */
const imagePointsSchema = z.object({
  file: z.string(),
  sha256: z.string(),
  /** Points in the file, and how many of them were left out as outliers. */
  points: z.number().int(),
  outliers: z.number().int(),
});

const deviationSchema = z.object({
  placement: z.number().int(),
  axis: z.enum(['x', 'y']),
  /** Commanded position of the line or the rung, mm. */
  commanded: finite,
  /** True for a short stroke of a ladder; absent for a line. */
  rung: z.boolean().optional(),
  /** Actual minus commanded, approached rising and falling, mm; absent where not marked so. */
  forward: finite.optional(),
  reverse: finite.optional(),
  u: uncertainty,
  /** Standard uncertainty of forward - reverse, where both are: what they share drops out. */
  uReversal: uncertainty.optional(),
});

const evidenceSchema = z.object({
  what: z.string(),
  given: finite,
  adjusted: finite,
  unit: z.enum(['mm', 'rad', '1']),
  u: uncertainty,
  /** Normalised error against the rest; absent where the rest says nothing about it. */
  En: finite.optional(),
  /** No reading of an instrument: the same quantity by the photos alone, beside the turned board's. */
  byPhotosAlone: z.literal(true).optional(),
});

/** What squareness and the ratio of the scales rest on, and what another way says of them. */
const methodSchema = z.object({
  /** turned board: marks of several positions of the board; photos: one position and the cameras. */
  method: z.enum(['turned board', 'photos']),
  /** Whether the result is this one's. */
  used: z.boolean(),
  squareness: quantitySchema,
  ratio: quantitySchema,
});

/** Fresh marks beside old ones on one board: what changed between the two markings, later minus first. */
const freshSchema = z.object({
  squareness: quantitySchema,
  scale: z.object({ x: quantitySchema, y: quantitySchema, ratio: quantitySchema }),
  lostMotion: z.object({ x: quantitySchema, y: quantitySchema }),
  racking: quantitySchema,
  /**
   * What bears the changes: nothing (none beyond U), board (scales alone: it swelled or shrank), machine (more than
   * that), open (too little is known).
   */
  explainedBy: z.enum(['nothing', 'board', 'machine', 'open']),
});

const verdictSchema = z.object({
  what: z.string(),
  limit: z.number(),
  unit: z.enum(['mm/m', 'mm']),
  /** ISO 14253-1. */
  verdict: z.enum(['inside', 'outside', 'cannot tell']),
  why: z.string(),
});

const proposalSchema = z.object({
  what: z.string(),
  /** False: change it; true: leave alone. */
  leaveAlone: z.boolean(),
  from: finite.optional(),
  to: finite.optional(),
  /** The change itself. */
  amount: finite.optional(),
  unit: z.string().optional(),
  side: z.string().optional(),
  direction: z.string().optional(),
  /** What this one comes after. */
  after: z.string().optional(),
  U: uncertainty.optional(),
  why: z.string(),
  /** Steps per unit are left alone though the scale is measured: because of what. */
  withheld: z.enum(['old marks', 'contradicted']).optional(),
  /** What the measurement should then show, in `unit`: with U of that measurement being as this one's. */
  expected: z.object({ value: finite, U: uncertainty, unit: z.string() }).optional(),
  /** What the shape of the deviations resembles; no more than a hint. */
  looksLike: z.string().optional(),
  /** The check that would confirm it. */
  check: z.string().optional(),
  cautions: z.array(z.string()).optional(),
});

export const findingSchema = z.object({
  code: z.string(),
  message: z.string(),
  hint: z.string().optional(),
  where: z.string().optional(),
});

const oneMoreSchema = z.object({
  quantity: z.enum(['squareness', 'scale.ratio']),
  /** Which photo: `like p3.jpg, the phone turned a quarter turn to the left`. */
  photo: z.string(),
  /** What the quantity would then be. */
  state: z.enum(['measured', 'weak']),
  /** Expanded uncertainty now (absent where undetermined) and with that photo; rad, ratio. */
  U: z.object({ from: uncertainty.optional(), to: uncertainty }),
});

const curvePointSchema = z.object({ at: finite, value: finite, u: uncertainty });

export const measurementSchema = z.object({
  schema: z.literal(MEASUREMENT_SCHEMA_ID),
  tool: z.object({ name: z.string(), version: z.string() }),
  /** ISO 8601. */
  measuredAt: z.iso.datetime({ offset: true }),
  /** When the grid was marked and when photographed, where the evidence says so. */
  marked: z.string().optional(),
  taken: z.string().optional(),
  machine: z.string().optional(),
  gantryAxis: z.enum(['x', 'y', 'none']),
  squareness: quantitySchema,
  scale: z.object({ x: quantitySchema, y: quantitySchema, ratio: quantitySchema }),
  /** Where the machine's temperature and material are known. */
  scaleAt20: scaleAt20Schema.optional(),
  lostMotion: z.object({ x: quantitySchema, y: quantitySchema }),
  straightness: z.object({ x: quantitySchema, y: quantitySchema }),
  /** Deviations along the travel: of Y motion seen in X (at: y), of X motion seen in Y (at: x), mm. */
  straightnessCurve: z
    .object({ x: z.array(curvePointSchema), y: z.array(curvePointSchema) })
    .optional(),
  racking: z.intersection(
    quantitySchema,
    z.object({
      /** Yaw about its mean along the gantry's travel: mm, rad. */
      curve: z.array(curvePointSchema).optional(),
      /** Squareness at both ends of the gantry's travel, rad. */
      squarenessAtEnds: z.tuple([curvePointSchema, curvePointSchema]).optional(),
    }),
  ),
  /**
   * Error that repeats with a turn of the drive: amplitude in mm, the period in mm, the phase in rad
   * (deviation = amplitude · cos(2π place / period − phase)).
   */
  periodic: z.object({ x: periodicSchema, y: periodicSchema }).optional(),
  /** Marks made once more at the end against the first ones, mm; + lies farther toward +. */
  drift: z.object({ x: quantitySchema, y: quantitySchema }).optional(),
  /** Shape of the board, mm, where it is significantly not flat: height of the ends over the middle. */
  board: z
    .object({
      bowX: withUncertaintySchema,
      bowY: withUncertaintySchema,
      twist: withUncertaintySchema,
    })
    .optional(),
  photos: z.array(photoSchema),
  /** Files of nodes that were measured on the board itself. */
  points: z.array(pointsSchema).optional(),
  /** Instead of pictures. */
  imagePoints: imagePointsSchema.optional(),
  camera: z.array(cameraSchema),
  placements: z.array(placementSchema),
  /** Absent where nothing could be adjusted. */
  adjustment: z
    .object({
      observations: z.number().int(),
      unknowns: z.number().int(),
      redundancy: z.number(),
      varianceFactor: z.number(),
      /** Absent without photos. */
      sigmaPixel: z.number().optional(),
      sigmaMark: z.number(),
      outliers: z.number().int(),
      iterations: z.number().int(),
      seconds: z.number(),
      /** Correlation of squareness with each shared camera term, where squareness is estimated. */
      squarenessCorrelation: z.record(z.string(), z.number()).optional(),
      /** The marks were taken to lie where they were commanded: only the camera was measured. */
      knownGrid: z.literal(true).optional(),
      /** Only these camera terms were adjusted, without priors; all where absent. */
      cameraTerms: z.array(z.string()).optional(),
      /** What one photo more, of the kind that helps most, would bring. */
      oneMore: z.array(oneMoreSchema).optional(),
    })
    .optional(),
  deviations: z.array(deviationSchema),
  /** Absent without pictures; the one that was used comes first. */
  methods: z.array(methodSchema).optional(),
  /** Where two programs marked the board without a turn: the second one later, beside the first. */
  fresh: freshSchema.optional(),
  evidence: z.array(evidenceSchema),
  verdicts: z.array(verdictSchema),
  proposals: z.array(proposalSchema),
  findings: z.array(findingSchema),
  warnings: z.array(z.string()),
});

export type Measurement = z.infer<typeof measurementSchema>;
export type Quantity = z.infer<typeof quantitySchema>;
export type Estimate = z.infer<typeof estimateSchema>;
export type PhotoRecord = z.infer<typeof photoSchema>;
export type CameraRecord = z.infer<typeof cameraSchema>;
export type PlacementRecord = z.infer<typeof placementSchema>;
export type DeviationRecord = z.infer<typeof deviationSchema>;
export type ScaleAt20 = z.infer<typeof scaleAt20Schema>;
export type PointsRecord = z.infer<typeof pointsSchema>;
export type EvidenceRecord = z.infer<typeof evidenceSchema>;
export type ResidualRecord = z.infer<typeof residualSchema>;
export type MethodRecord = z.infer<typeof methodSchema>;
export type FreshRecord = z.infer<typeof freshSchema>;
export type VerdictRecord = z.infer<typeof verdictSchema>;
export type ProposalRecord = z.infer<typeof proposalSchema>;
export type CurvePoint = z.infer<typeof curvePointSchema>;

/** Choices → all files of a plan: programs, records, picture, sheet. */

import type { PlanRecord } from '../../shared/schemas/plan.js';
import { type Outcome, success } from '../quantity/index.js';
import { cutSheet } from './cut-sheet.js';
import type { GridPlan } from './grid-plan.js';
import { layOutGrid } from './lay-out-grid.js';
import type { PlanChoices } from './plan-choices.js';
import { planRecord, type WrittenProgram } from './plan-record.js';
import { previewSvg } from './preview-svg.js';
import { writeFlatProgram, writeHolesProgram } from './write-flat-program.js';
import { writeParametricProgram } from './write-parametric-program.js';

export interface PlanFiles {
  readonly plans: readonly GridPlan[];
  /** One for each plan. */
  readonly records: readonly PlanRecord[];
  /** Names without folders. */
  readonly files: readonly { readonly name: string; readonly content: string }[];
}

export interface PlanFilesOptions {
  readonly form: WrittenProgram['form'];
  readonly toolVersion: string;
}

/**
 * Lays out one grid or a turned pair and writes everything about it.
 *
 * Fails: WRONG_CALL, naming the option.
 */
export function planFiles(choices: PlanChoices, options: PlanFilesOptions): Outcome<PlanFiles> {
  const placements = choices.turned
    ? (['first', 'second'] as const)
    : [choices.fresh ? ('fresh' as const) : ('only' as const)];
  const plans: GridPlan[] = [];
  for (const placement of placements) {
    const plan = layOutGrid(choices, placement);
    if (!plan.ok) return plan;
    plans.push(plan.value);
  }
  const stem = (plan: GridPlan) =>
    plan.layout.placement === 'only' ? 'grid' : plan.layout.placement;
  const programs = plans.map((plan): WrittenProgram => {
    const file = `${stem(plan)}.ngc`;
    const write = options.form === 'flat' ? writeFlatProgram : writeParametricProgram;
    return { file, text: write(plan, file), form: options.form };
  });
  const recordNames = plans.map((plan) =>
    plan.layout.placement === 'only' ? 'plan.json' : `${plan.layout.placement}.json`,
  );
  const holes =
    plans[0]!.holes.length > 0
      ? [{ name: 'inserts.ngc', content: writeHolesProgram(plans[0]!) }]
      : [];
  const names = [
    ...recordNames,
    ...programs.map(({ file }) => file),
    ...holes.map(({ name }) => name),
    ...plans.map((plan) => previewName(plan)),
    'cut-sheet.txt',
  ];
  const records = plans.map((plan, i) =>
    planRecord(plan, programs[i]!, names, options.toolVersion),
  );
  return success({
    plans,
    records,
    files: [
      ...records.map((record, i) => ({
        name: recordNames[i]!,
        content: `${JSON.stringify(record, undefined, 1)}\n`,
      })),
      ...programs.map(({ file, text }) => ({ name: file, content: text })),
      ...holes,
      ...plans.map((plan, i) => ({
        name: previewName(plan),
        content: drawPlan(plan, records[i]!),
      })),
      {
        name: 'cut-sheet.txt',
        content: cutSheet({
          plans,
          programs: programs.map(({ file }) => file),
          isParametric: options.form === 'parametric',
        }),
      },
    ],
  });
}

function previewName({ layout }: GridPlan): string {
  return layout.placement === 'only' ? 'preview.svg' : `preview-${layout.placement}.svg`;
}

function drawPlan({ choices }: GridPlan, record: PlanRecord): string {
  return previewSvg({
    title: `${record.program.file}: ${record.linesAtX.length} × ${record.linesAtY.length} lines`,
    strokes: record.strokes.map(({ from, to, approachX, approachY }) => ({
      fromMm: from,
      toMm: to,
      approachX,
      approachY,
    })),
    holes: record.holes.map(({ centre, steps }) => ({
      centreMm: centre,
      diametersMm: steps.map(({ pathDiameter }) => pathDiameter + choices.inserts!.toolDiameterMm),
      isSuspect: false,
    })),
    travelMm: record.travel,
  });
}

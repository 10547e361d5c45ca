/** The frame of every report: one file that opens without a network, for the screen and for paper. */

import { Markup, markup } from './escape-markup.js';
import { REPORT_STYLE } from './report-style.js';

/** First line of every report: tells our own file from others. */
export const REPORT_MARK = '<!-- gantrue report -->';

export const NO_CERTIFICATE =
  'A technical report of a measurement made by its user. It is no calibration certificate: no accredited laboratory (ISO/IEC 17025) stands behind it.';

export interface ReportPage {
  readonly title: string;
  /** The result in one sentence. */
  readonly verdict: string;
  readonly body: readonly (Markup | undefined)[];
  readonly tool: { readonly name: string; readonly version: string };
  readonly measuredAt: string;
}

export function reportPage({ title, verdict, body, tool, measuredAt }: ReportPage): string {
  return markup`<!DOCTYPE html>
${new Markup(REPORT_MARK)}
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; img-src data:; style-src 'unsafe-inline'">
<title>${title}</title>
<style>${new Markup(REPORT_STYLE)}</style>
</head>
<body>
<main>
<h1>${title}</h1>
<p class="verdict">${verdict}</p>
${body}
</main>
<footer><p>${NO_CERTIFICATE}</p><p>Written by ${tool.name} ${tool.version}. Measured ${measuredAt}. Values are given ± expanded uncertainty, k = 2, about 95 %.</p></footer>
</body>
</html>
`.text;
}

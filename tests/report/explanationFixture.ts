import type { GrabComparison } from '../../src/core/explainComparison.js'
import type { Explanation, GrabView, LineRow, LineView } from '../../src/core/explanation.js'
import type { RecommendationData, StatusData } from '../../src/model/events.js'
import { DAY_MS, formatInstant, HOUR_MS, MINUTE_MS } from '../../src/model/time.js'

/** Invented filter effluent FE3 of Hollin Weir: FE3-B loses 0.004 NTU a day from 9 May on, FE3-A stays right. */
export const AT_MS = Date.UTC(2026, 4, 19, 6)
const ONSET_MS = Date.UTC(2026, 4, 9, 6)
const START_MS = AT_MS - 10 * DAY_MS
const TOLERANCE_NTU = 0.05
const LIMIT = 6.4
const DELTA0 = 0.25
const DELTA1 = 0.6

export const SUMMARY =
  'FE3-B reads 0.04 NTU low (tolerance 0.05, reached about 21 May) since about 9 May; 6 grabs and FE3-A show it; ' +
  'probably zero drift: take a grab, then zero on zero water.'

export const STATUS_SUMMARY = 'FE3-B agrees with 8 grabs and with FE3-A within 0.1 tolerance over the last 10 days.'

/** An analyzer with an open recommendation. */
export function openExplanation(change: Partial<Explanation> = {}): Explanation {
  return { ...calmExplanation(), ...drifting(), ...change }
}

/** The same analyzer with nothing open: the page says why not. */
export function calmExplanation(change: Partial<Explanation> = {}): Explanation {
  return {
    plant: 'hollin-weir',
    plantName: 'Hollin Weir Water Works',
    timeZone: 'Europe/London',
    serial: 'HW-1032',
    analyzer: 'FE3-B',
    point: 'FE3',
    pointName: 'Filter 3 effluent',
    atMs: AT_MS,
    toleranceText: '0.05 NTU or 10 % of the level, whichever is larger',
    status: statusData(),
    conditions: [
      { text: 'A chart is beyond its limit: grab samples 1.2 of 6.4, FE3-A 0.8 of 6.4', met: false },
      { text: 'P(bias beyond half a tolerance) is 0.90 or more: 0.04', met: false },
      { text: 'P(another unit or the laboratory) is 0.10 or less: 0.02', met: true },
    ],
    nearest: 'Three more grabs reading 0.04 NTU above FE3-B would open a request.',
    lines: linesOf(0),
    comparison: comparisonData(),
    blocks: blocksOf(0),
    companions: [{ analyzer: 'FE3-A', blocks: blocksOf(0, 0.003, false) }],
    grabs: grabsOf(0),
    work: [{ atMs: AT_MS - 9 * DAY_MS - 4 * HOUR_MS, text: 'cleaned' }],
    signs: [],
    hypotheses: [
      { text: 'nothing wrong', probability: 0.91 },
      { text: 'FE3-B: zero error, ramp since 9 May', probability: 0.05 },
      { text: 'FE3-A: zero error', probability: 0.04 },
    ],
    excluded: { repeat: 14, maintenance: 8, not_in_service: 96, suspect_grab: 1 },
    reproduce: { registerHash: '8f3a2b91c0de4471', fromMs: Date.UTC(2026, 3, 1), toMs: AT_MS },
    ...change,
  }
}

export function recommendationData(change: Partial<RecommendationData> = {}): RecommendationData {
  return {
    summary: SUMMARY,
    notify: 'at_once',
    recommendation: '5b0c3a52-7d1e-5c55-9a57-0f2f5c1f6a10',
    revision: 2,
    target: { analyzer: 'FE3-B' },
    analyzer: 'FE3-B',
    point: 'FE3',
    phase: 'open',
    answer: 'none',
    openedAt: '2026-05-16T18:00:00Z',
    known: '2026-05-16T18:00:00Z',
    urgency: 'soon',
    respondBy: '2026-05-20T14:00:00Z',
    action: 'zero',
    procedure: {
      zeroMethod: 'zero_water',
      spanReference: 'secondary_standard',
      standard: { id: 'D-1001', assignedNtu: 34.2, expires: '2026-05-12' },
      steps: [
        'Tell the control room and hold the outputs as the site procedure says.',
        'Take a grab sample at FE3 and note the time.',
        'Read zero water as found, before anything is touched.',
        'Clean the optics and read zero water again.',
        'Set zero on zero water only if it is outside ±0.02 NTU.',
        'Check the span on standard D-1001 (34.2 NTU, assigned on this analyzer).',
        'Put the analyzer back in service when the reading is stable; take a second grab.',
      ],
      cautions: [
        'Local codes, site procedures and licensed practice come first; this is advice.',
        'Close the inlet and outlet valves and relieve the pressure before opening.',
        'Do not touch optical faces.',
        'Never adjust to a grab or to FE3-A.',
      ],
    },
    bias: {
      ntu: -0.0388,
      ci95: [-0.0462, -0.0313],
      atLevelNtu: 0.112,
      ofTolerance: -0.776,
      ofToleranceCi95: [-0.924, -0.626],
      toleranceNtu: TOLERANCE_NTU,
      trueAtActionLevels: [{ shownNtu: 0.3, trueNtu: 0.3388 }],
    },
    model: { zeroNtu: { value: -0.0388, ci95: [-0.0462, -0.0313] }, spanRel: { value: -0.01, ci95: [-0.09, 0.07] } },
    cause: {
      ranked: [
        { cause: 'zero_drift', probability: 0.93 },
        { cause: 'fouling', probability: 0.05 },
        { cause: 'span_drift', probability: 0.02 },
      ],
      because: [
        'The difference is the same at 0.06 and at 0.20 NTU; a span error would have to be 35 %.',
        'It has grown slowly and a downward offset is not fouling.',
      ],
    },
    onset: { estimate: '2026-05-09T06:00:00Z', earliest: '2026-05-08T00:00:00Z', latest: '2026-05-10T12:00:00Z' },
    forecast: { toleranceAt: '2026-05-21T18:00:00Z', earliest: '2026-05-20T06:00:00Z', latest: '2026-05-23T12:00:00Z' },
    evidence: linesOf(-0.08).flatMap(({ evidence }) => (evidence === undefined ? [] : [evidence])),
    reproduce: { registerHash: '8f3a2b91c0de4471', from: '2026-04-01T00:00:00Z', to: formatInstant(AT_MS) },
    ...change,
  }
}

/** Nineteen pairs from 0.07 to 0.17 NTU, a line near no error, and its region as a round of eight points. */
export function comparisonData(change: Partial<GrabComparison> = {}): GrabComparison {
  return {
    sinceMs: Date.UTC(2026, 3, 28, 10),
    pairs: grabsOf(0).flatMap(({ use, grabNtu, analyzerNtu = 0 }) =>
      use === 'used' ? [{ grabNtu, uGrabNtu: 0.0105, analyzerNtu, uAnalyzerNtu: 0.0033 }] : [],
    ),
    bounds: 0,
    laboratoryOffsetNtu: 0.003,
    tolerance: { absoluteNtu: TOLERANCE_NTU, relative: 0.1 },
    line: {
      zeroNtu: { value: -0.0124, ci95: [-0.0301, 0.0053] },
      spanRel: { value: 0.0712, ci95: [-0.0958, 0.2382] },
      scatterRatio: 1.42,
      region: [
        [0.0097, -0.1261],
        [0.0031, 0.0163],
        [-0.0124, 0.1552],
        [-0.0281, 0.2511],
        [-0.0345, 0.2685],
        [-0.0281, 0.1261],
        [-0.0124, -0.0128],
        [0.0031, -0.1087],
      ],
      told: { readsRight: true, levelNtu: 0.106, biasNtu: { value: -0.0049, ci95: [-0.0101, 0.0003] } },
    },
    ...change,
  }
}

export function statusData(change: Partial<StatusData> = {}): StatusData {
  return {
    summary: STATUS_SUMMARY,
    notify: 'shift_summary',
    analyzer: 'FE3-B',
    point: 'FE3',
    assessment: 'consistent',
    since: '2026-05-02T09:00:00Z',
    bias: {
      ntu: -0.004,
      ci95: [-0.012, 0.004],
      atLevelNtu: 0.11,
      ofTolerance: -0.08,
      ofToleranceCi95: [-0.24, 0.08],
      toleranceNtu: TOLERANCE_NTU,
    },
    lastIndependentEvidence: '2026-05-19T01:00:00Z',
    missing: ['A verification: the last one is 41 days old.'],
    findings: [],
    ...change,
  }
}

function drifting(): Partial<Explanation> {
  return {
    status: statusData({
      summary: SUMMARY,
      assessment: 'doubtful',
      since: '2026-05-16T18:00:00Z',
      bias: {
        ntu: -0.0388,
        ci95: [-0.0462, -0.0313],
        atLevelNtu: 0.112,
        ofTolerance: -0.776,
        ofToleranceCi95: [-0.924, -0.626],
        toleranceNtu: TOLERANCE_NTU,
      },
    }),
    recommendation: recommendationData(),
    conditions: [
      { text: 'A chart is beyond its limit: grab samples 11.3 of 6.4', met: true },
      { text: 'P(bias beyond half a tolerance) is 0.90 or more: 0.99', met: true },
      { text: 'P(another unit or the laboratory) is 0.10 or less: 0.04', met: true },
    ],
    nearest: 'Four grabs within 0.01 NTU of FE3-B would withdraw the request.',
    signs: [],
    hypotheses: [
      { text: 'FE3-B: zero error, ramp since 9 May', probability: 0.91 },
      { text: 'FE3-A: zero error', probability: 0.05 },
      { text: 'nothing wrong', probability: 0.04 },
    ],
    lines: linesOf(-0.08),
    blocks: blocksOf(-0.004),
    grabs: grabsOf(-0.004),
    onset: { estimateMs: ONSET_MS, earliestMs: ONSET_MS - 30 * HOUR_MS, latestMs: ONSET_MS + 30 * HOUR_MS },
  }
}

/** True turbidity: filter runs of two days that ripen, settle and rise; pure arithmetic and no chance. */
function truthNtu(atMs: number): number {
  const hours = (((atMs - START_MS) / HOUR_MS) % 48) + 0.25
  return 0.07 + 0.09 / (1 + hours) + 0.0006 * hours + 0.01 * Math.sin(atMs / (5 * HOUR_MS))
}

function biasNtu(atMs: number, perDay: number): number {
  return (perDay * Math.max(0, atMs - ONSET_MS)) / DAY_MS
}

/** Repeatable scatter in −1 … 1. */
function scatter(index: number): number {
  return ((index * index * 7_919 + index * 104_729 + 577) % 2_003) / 1_001 - 1
}

function blocksOf(perDay: number, offset = 0, bubbly = true): { endMs: number; medianNtu: number; usable: boolean }[] {
  const blocks = []
  for (let index = 0, endMs = START_MS; endMs <= AT_MS; index++, endMs += 15 * MINUTE_MS) {
    const hour = (endMs - START_MS) / HOUR_MS
    if (hour > 100 && hour < 106) continue
    const bubbles = bubbly && hour > 160 && hour < 163
    const medianNtu = truthNtu(endMs) + biasNtu(endMs, perDay) + offset + 0.002 * scatter(index) + (bubbles ? 0.9 : 0)
    blocks.push({ endMs, medianNtu: Number(medianNtu.toFixed(4)), usable: !bubbles && hour % 48 > 1 })
  }
  return blocks
}

function grabsOf(perDay: number): GrabView[] {
  const grabs: GrabView[] = []
  for (let index = 0, atMs = START_MS + 5 * HOUR_MS; atMs < AT_MS; index++, atMs += 12 * HOUR_MS) {
    const suspect = index === 7
    const grabNtu = Number((truthNtu(atMs) + 0.006 * scatter(index * 31) + (suspect ? 0.12 : 0)).toFixed(3))
    grabs.push({
      atMs,
      grabNtu,
      uNtu: 0.011,
      analyzerNtu: Number((truthNtu(atMs) + biasNtu(atMs, perDay)).toFixed(4)),
      sampleId: `L-${String(4_400 + index)}`,
      use: suspect ? 'suspect: 4.6 u from the last five' : 'used',
    })
  }
  return grabs
}

function linesOf(perDayOfTolerance: number): LineView[] {
  const grab = rowsOf(perDayOfTolerance, 12 * HOUR_MS, 0.22, 0.18)
  const redundant = rowsOf(perDayOfTolerance, HOUR_MS, 0.5, 0.06)
  return [
    {
      line: 'grab',
      against: 'grab samples',
      delta0: DELTA0,
      delta1: DELTA1,
      rows: grab,
      evidence: evidenceOf('grab', 'grab samples', grab),
    },
    {
      line: 'redundant',
      against: 'FE3-A',
      delta0: DELTA0,
      delta1: DELTA1,
      rows: redundant,
      evidence: evidenceOf('redundant', 'FE3-A', redundant),
    },
    {
      line: 'verification',
      against: 'D-1001',
      delta0: DELTA0,
      delta1: DELTA1,
      rows: [],
      missing: 'no verification in the last 10 days',
    },
  ]
}

/** Rows of a plain CUSUM in log-likelihood units, as the charts keep it. */
function rowsOf(perDayOfTolerance: number, everyMs: number, u: number, spread: number): LineRow[] {
  const rows: LineRow[] = []
  let high = 0
  let low = 0
  for (let index = 0, atMs = START_MS + everyMs; atMs < AT_MS; index++, atMs += everyMs) {
    const ofTolerance = (perDayOfTolerance * Math.max(0, atMs - ONSET_MS)) / DAY_MS + spread * scatter(index * 17)
    const weight = (DELTA1 - DELTA0) / (u * u)
    const reference = (DELTA0 + DELTA1) / 2
    high = Math.max(0, high + Math.min(LIMIT / 2.5, weight * (ofTolerance - reference)))
    low = Math.max(0, low + Math.min(LIMIT / 2.5, weight * (-ofTolerance - reference)))
    rows.push({
      atMs,
      ofTolerance,
      uOfTolerance: u,
      high: Math.min(high, 2 * LIMIT),
      low: Math.min(low, 2 * LIMIT),
      limit: LIMIT,
    })
  }
  return rows
}

function evidenceOf(
  line: 'grab' | 'redundant',
  against: string,
  rows: readonly LineRow[],
): NonNullable<LineView['evidence']> {
  const last = rows.at(-1)!
  return {
    line,
    against,
    n: rows.length,
    chart: {
      delta0: DELTA0,
      delta1: DELTA1,
      limit: LIMIT,
      statistic: Number(last.low.toFixed(3)),
      side: 'low',
      peakAt: formatInstant(last.atMs),
      alarmFreeYears: 10,
    },
    biasNtu: Number((last.ofTolerance * TOLERANCE_NTU).toFixed(4)),
    sigmaNtu: 0.011,
    excluded: line === 'grab' ? { suspect_grab: 1 } : { no_usable_reading: 24, not_in_service: 12 },
    points: rows
      .slice(-120)
      .map(row => [formatInstant(row.atMs), Number(row.ofTolerance.toFixed(3)), row.uOfTolerance]),
  }
}

import type { CustomSeriesOption, EChartsOption, LineSeriesOption, ScatterSeriesOption } from 'echarts'
import type { Explanation, LineRow, LineView } from '../../core/explanation.js'
import { sayDay } from '../../model/time.js'
import { sayLine, sayTolerances } from '../say.js'
import { axes, roundStep, rowsWithin, type Span, spanOfLines } from './axes.js'
import { backgroundLegend, backgroundMarks, errorBars } from './marks.js'
import { BAND, BLUE, drawBoth, GREEN, INK, type LegendEntry, type Picture, type Symbol, VERMILION } from './picture.js'
import type { PictureSize } from './pictureSize.js'
import { thin } from './thin.js'

interface Style {
  readonly color: string
  readonly symbol: Symbol
  readonly filled: boolean
}

const STYLES: readonly Style[] = [
  { color: INK, symbol: 'diamond', filled: true },
  { color: BLUE, symbol: 'circle', filled: true },
  { color: VERMILION, symbol: 'triangle', filled: true },
  { color: GREEN, symbol: 'rect', filled: false },
]

/** With more points than this the bars of a line run into each other; its points are drawn small and without bars. */
const MOST_BARS = 60

/** The share of the marks at each end that may lie beyond the picture, so that one wild pair does not flatten it. */
const SHARE_BEYOND = 0.02

interface Reach {
  readonly lowest: number
  readonly highest: number
  readonly step: number
}

/** Difference of the analyzer to each of its references, in tolerances. Undefined where there is nothing to compare. */
export function differencePicture(explanation: Explanation): Picture | undefined {
  const span = spanOfLines(explanation)
  const lines = explanation.lines
    .map(line => ({ ...line, rows: rowsWithin(line, span) }))
    .filter(({ rows }) => rows.length > 0)
  if (lines.length === 0) return undefined
  const delta0 = lines[0]!.delta0
  const latest = lines.map(line => `against ${line.against} last ${sayTolerances(line.rows.at(-1)!.ofTolerance)}`)
  const label =
    `Difference of ${explanation.analyzer} to its references in tolerances, ${sayDay(span.fromMs)} to ` +
    `${sayDay(span.toMs)}: ${latest.join('; ')}. The tolerance is 1 above and below zero.`
  return {
    title: `${explanation.analyzer} minus its references`,
    caption:
      'In tolerances: beyond the dashed lines the tolerance is passed. Above zero the analyzer reads higher than its ' +
      `reference. Within the grey band (${String(delta0)} of the tolerance) a standing difference is normal. ` +
      (lines.every(({ rows }) => isDense(rows)) ? '' : 'Bars are twice the standard uncertainty. ') +
      sayBeyond(lines),
    legend: [
      ...lines.map((line, index) => ({
        mark: { kind: 'symbol' as const, ...styleOf(index) },
        text: sayLine(line),
      })),
      { mark: { kind: 'line', color: INK, dash: 'dashed' }, text: 'tolerance' },
      { mark: { kind: 'area', color: BAND }, text: 'standing difference that is normal' },
      ...backgroundLegend(explanation, span),
    ] satisfies LegendEntry[],
    svg: drawBoth('difference', label, size => option(explanation, lines, span, size)),
  }
}

function option(explanation: Explanation, lines: readonly LineView[], span: Span, size: PictureSize): EChartsOption {
  const reach = reachOf(lines)
  const { lowest: min, highest: max, step: interval } = reach
  return {
    ...axes(size, span, 'tolerances', { min, max, interval }),
    series: [
      backgroundMarks(explanation, span, size),
      toleranceMarks(lines[0]!.delta0, size),
      ...lines.flatMap((line, index) => pointsOf(line, styleOf(index), reach, size)),
    ],
  }
}

/** Holds the tolerance on both sides and nearly all marks with their bars. */
function reachOf(lines: readonly LineView[]): Reach {
  const ends = (side: number) =>
    lines
      .flatMap(({ rows }) =>
        rows.map(({ ofTolerance, uOfTolerance }) =>
          isDense(rows) ? side * ofTolerance : side * ofTolerance + 2 * uOfTolerance,
        ),
      )
      .sort((a, b) => b - a)
  const far = (side: number) => {
    const sorted = ends(side)
    return Math.max(1.2, sorted[Math.floor(SHARE_BEYOND * sorted.length)]!)
  }
  const [above, below] = [far(1), far(-1)]
  const step = Math.max(0.5, roundStep(Math.max(above, below)))
  return { lowest: -step * Math.ceil(below / step), highest: step * Math.ceil(above / step), step }
}

function sayBeyond(lines: readonly LineView[]): string {
  const { lowest, highest } = reachOf(lines)
  const beyond = lines.flatMap(({ rows }) => rows).filter(row => row.ofTolerance < lowest || row.ofTolerance > highest)
  if (beyond.length === 0) return ''
  const far = beyond.reduce((most, row) => (Math.abs(row.ofTolerance) > Math.abs(most.ofTolerance) ? row : most))
  return `${String(beyond.length)} of them lie further out than the edge where they stand, the farthest at ${sayTolerances(far.ofTolerance)}.`
}

function isDense(rows: readonly LineRow[]): boolean {
  return rows.length > MOST_BARS
}

function toleranceMarks(delta0: number, size: PictureSize): LineSeriesOption {
  const label = { show: size.kind === 'wide', position: 'end', color: INK, fontSize: size.fontSize } as const
  return {
    type: 'line',
    data: [],
    silent: true,
    markArea: { silent: true, itemStyle: { color: BAND }, data: [[{ yAxis: -delta0 }, { yAxis: delta0 }]] },
    markLine: {
      silent: true,
      symbol: 'none',
      lineStyle: { color: INK, type: 'dashed', width: 1.5 },
      label: { ...label, formatter: ({ name }) => name },
      data: [
        { yAxis: 1, name: '+tolerance' },
        { yAxis: -1, name: '−tolerance' },
        { yAxis: 0, name: '', lineStyle: { type: 'solid', width: 1 } },
      ],
    },
  }
}

function pointsOf(
  { rows }: LineView,
  { color, symbol, filled }: Style,
  { lowest, highest }: Reach,
  size: PictureSize,
): readonly (CustomSeriesOption | ScatterSeriesOption)[] {
  const dense = isDense(rows)
  const shown = thin(rows, row => row.ofTolerance, Math.round(size.width / 2))
  const inside = (value: number) => Math.max(lowest, Math.min(highest, value))
  const bar = ({ atMs, ofTolerance, uOfTolerance }: LineRow) =>
    [atMs, inside(ofTolerance - 2 * uOfTolerance), inside(ofTolerance + 2 * uOfTolerance)] as const
  const points: ScatterSeriesOption = {
    type: 'scatter',
    silent: true,
    z: dense ? 2 : 4,
    symbol,
    symbolSize: dense ? 5 : 9,
    itemStyle: { color: filled ? color : '#fff', borderColor: color, borderWidth: 1.2 },
    data: shown.map(row => [row.atMs, inside(row.ofTolerance)]),
  }
  return dense ? [points] : [errorBars(shown.map(bar), color), points]
}

function styleOf(index: number): Style {
  return STYLES[index % STYLES.length]!
}

import type { EChartsOption, LineSeriesOption } from 'echarts'
import type { Explanation, LineRow, LineView } from '../../core/explanation.js'
import { sayDay } from '../../model/time.js'
import { sayLine, sayStatistic } from '../say.js'
import { axes, roundStep, rowsWithin, type Span, spanOfLines } from './axes.js'
import { backgroundLegend, backgroundMarks } from './marks.js'
import { BLUE, drawBoth, INK, type Picture, VERMILION } from './picture.js'
import type { PictureSize } from './pictureSize.js'
import { thin } from './thin.js'

/** A chart runs on after its signal, to twice its limit at most; beyond that nothing is drawn. */
const LIMITS_SHOWN = 2

/** Both sums of one line's CUSUM with its limit: reading high upwards, reading low downwards. Undefined without rows. */
export function chartPicture(explanation: Explanation, line: LineView, index: number): Picture | undefined {
  const span = spanOfLines(explanation)
  // No limit, no chart yet: the line was still learning its own spread.
  const rows = rowsWithin(line, span).filter(({ limit }) => limit > 0)
  const last = rows.at(-1)
  if (last === undefined) return undefined
  const label =
    `CUSUM of ${explanation.analyzer} against ${line.against}, ${sayDay(span.fromMs)} to ${sayDay(span.toMs)}: ` +
    `reading high ${sayStatistic(last.high)}, reading low ${sayStatistic(last.low)}, limit ${sayStatistic(last.limit)}.`
  return {
    title: `CUSUM: ${sayLine(line)}`,
    caption:
      'Evidence added up, in log-likelihood units: upwards that the analyzer reads high, downwards that it reads low. ' +
      `It grows only while the difference is nearer to ${String(line.delta1)} than to ${String(line.delta0)} of the ` +
      `tolerance. A signal is a sum beyond its limit, now ${sayStatistic(last.limit)}; ` +
      'after it the sum goes no further than twice the limit, until work is accepted.',
    legend: [
      { mark: { kind: 'line', color: VERMILION, dash: 'solid' }, text: 'reads high (up)' },
      { mark: { kind: 'line', color: BLUE, dash: 'dashed' }, text: 'reads low (down)' },
      { mark: { kind: 'line', color: INK, dash: 'dotted' }, text: 'limit, either side' },
      ...backgroundLegend(explanation, span),
    ],
    svg: drawBoth(`chart${String(index)}`, label, size => option(explanation, rows, span, size)),
  }
}

function option(explanation: Explanation, rows: readonly LineRow[], span: Span, size: PictureSize): EChartsOption {
  const budget = Math.round(size.width / 2)
  const highestLimit = rows.reduce((most, row) => Math.max(most, row.limit), 0)
  const highestSum = rows.reduce((most, row) => Math.max(most, row.high, row.low), 0)
  const highest = Math.max(highestLimit, Math.min(highestSum, LIMITS_SHOWN * highestLimit))
  const step = roundStep(highest)
  const reach = step * Math.ceil((1.05 * highest) / step)
  const curve = (value: (row: LineRow) => number) =>
    thin(rows, value, budget).map(
      row => [row.atMs, Math.max(-reach, Math.min(reach, value(row)))] satisfies [number, number],
    )
  const limit = { color: INK, type: 'dotted', width: 1.5 } as const
  return {
    ...axes(size, span, 'evidence', {
      min: -reach,
      max: reach,
      interval: step,
      axisLabel: { color: INK, fontSize: size.fontSize, formatter: (value: number) => String(Math.abs(value)) },
    }),
    series: [
      backgroundMarks(explanation, span, size),
      line(
        `limit ${sayStatistic(rows.at(-1)!.limit)}`,
        curve(row => row.limit),
        limit,
        size,
      ),
      line(
        `limit ${sayStatistic(rows.at(-1)!.limit)}`,
        curve(row => -row.limit),
        limit,
        size,
      ),
      line(
        'reads high',
        curve(row => row.high),
        { color: VERMILION, type: 'solid', width: 2 },
        size,
      ),
      line(
        'reads low',
        curve(row => -row.low),
        { color: BLUE, type: 'dashed', width: 2 },
        size,
      ),
    ],
  }
}

function line(
  name: string,
  data: [number, number][],
  lineStyle: { readonly color: string; readonly type: 'solid' | 'dashed' | 'dotted'; readonly width: number },
  size: PictureSize,
): LineSeriesOption {
  return {
    type: 'line',
    silent: true,
    showSymbol: false,
    lineStyle,
    itemStyle: { color: lineStyle.color },
    data,
    endLabel: {
      show: size.kind === 'wide',
      formatter: () => name,
      color: lineStyle.color,
      fontSize: size.fontSize,
      width: 88,
      overflow: 'truncate',
    },
    labelLayout: { moveOverlap: 'shiftY' },
  }
}

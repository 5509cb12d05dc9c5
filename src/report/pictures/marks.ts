import type { CustomSeriesOption, LineSeriesOption } from 'echarts'
import type { Explanation } from '../../core/explanation.js'
import { onsetOf } from '../bias.js'
import type { Span } from './axes.js'
import { INK, type LegendEntry, ONSET_FILL, PURPLE } from './picture.js'
import type { PictureSize } from './pictureSize.js'

/** Pixels that a label of work takes. */
const LABEL_WIDTH = 56

/** Work records and the onset interval, drawn behind everything else. */
export function backgroundMarks(explanation: Explanation, span: Span, size: PictureSize): LineSeriesOption {
  const onset = onsetWithin(explanation, span)
  return {
    type: 'line',
    data: [],
    silent: true,
    markArea: {
      silent: true,
      itemStyle: { color: ONSET_FILL },
      data: onset === undefined ? [] : [[{ xAxis: onset.fromMs }, { xAxis: onset.toMs }]],
    },
    markLine: {
      silent: true,
      symbol: 'none',
      lineStyle: { color: PURPLE, type: [2, 3], width: 1.5 },
      label: { color: INK, fontSize: size.fontSize, formatter: ({ name }) => name },
      data: workMarks(explanation, span, size).map(({ atMs, name }) => ({ xAxis: atMs, name })),
    },
  }
}

export function backgroundLegend(explanation: Explanation, span: Span): readonly LegendEntry[] {
  return [
    ...(onsetWithin(explanation, span) === undefined
      ? []
      : [{ mark: { kind: 'area', color: ONSET_FILL }, text: 'onset interval' } as const]),
    ...(explanation.work.some(({ atMs }) => isWithin(atMs, span))
      ? [{ mark: { kind: 'line', color: PURPLE, dash: 'dotted' }, text: 'W1, W2 …: work, listed below' } as const]
      : []),
  ]
}

/** Records of one visit stand so close that their labels would cover each other: one mark, "W1–W3". */
function workMarks({ work }: Explanation, span: Span, size: PictureSize): readonly { atMs: number; name: string }[] {
  const apartMs = ((span.toMs - span.fromMs) / size.width) * LABEL_WIDTH
  const marks: { atMs: number; first: number; last: number }[] = []
  work.forEach(({ atMs }, index) => {
    if (!isWithin(atMs, span)) return
    const before = marks.at(-1)
    if (before !== undefined && atMs - before.atMs < apartMs) before.last = index
    else marks.push({ atMs, first: index, last: index })
  })
  return marks.map(({ atMs, first, last }) => ({
    atMs,
    name: first === last ? workLabel(first) : `${workLabel(first)}–${workLabel(last)}`,
  }))
}

/** W1, W2 …: the key between pictures and the list of work. */
export function workLabel(index: number): string {
  return `W${String(index + 1)}`
}

/** Vertical bars with caps. Rows are [time, lower, upper]. */
export function errorBars(rows: readonly (readonly [number, number, number])[], color: string): CustomSeriesOption {
  return {
    type: 'custom',
    silent: true,
    z: 3,
    data: rows.map(row => [...row]),
    clip: true,
    // The value axis reaches both ends of a bar.
    encode: { x: 0, y: [1, 2] },
    renderItem: (_parameters, api) => {
      const lower = api.coord([api.value(0), api.value(1)])
      const upper = api.coord([api.value(0), api.value(2)])
      const x = lower[0]!
      const bar = (x1: number, y1: number, x2: number, y2: number) =>
        ({ type: 'line', shape: { x1, y1, x2, y2 }, style: { stroke: color, lineWidth: 1.2 } }) as const
      return {
        type: 'group',
        children: [
          bar(x, lower[1]!, x, upper[1]!),
          bar(x - 3, lower[1]!, x + 3, lower[1]!),
          bar(x - 3, upper[1]!, x + 3, upper[1]!),
        ],
      }
    },
  }
}

function isWithin(atMs: number, { fromMs, toMs }: Span): boolean {
  return atMs >= fromMs && atMs <= toMs
}

/** The part of the onset interval that the picture covers. Without an earliest time it reaches back to the last work. */
function onsetWithin(explanation: Explanation, span: Span): Span | undefined {
  const onset = onsetOf(explanation)
  if (onset === undefined) return undefined
  const fromMs = Math.max(span.fromMs, onset.earliestMs ?? workBefore(explanation, onset.estimateMs) ?? span.fromMs)
  const toMs = Math.min(span.toMs, onset.latestMs)
  return fromMs < toMs ? { fromMs, toMs } : undefined
}

function workBefore({ work }: Explanation, limitMs: number): number | undefined {
  return work.findLast(({ atMs }) => atMs <= limitMs)?.atMs
}

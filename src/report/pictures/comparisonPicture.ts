import type { CustomSeriesOption, EChartsOption } from 'echarts'
import type { ComparedPair, GrabComparison } from '../../core/explainComparison.js'
import { toleranceAt } from '../../model/tolerance.js'
import { saySigned, sayPercent } from '../say.js'
import { BLUE, drawBoth, GREY, INK, type LegendEntry, type Picture } from './picture.js'
import type { PictureSize } from './pictureSize.js'
import { plainLine, type Scale, scaleOf, valueAxes } from './valueAxes.js'

/** With more pairs than this their bars run into each other. */
const MOST_BARS = 60

/** Analyzer over grab sample with y = x, the tolerance beside it and the fitted line. Undefined without pairs. */
export function comparisonPicture(analyzer: string, comparison: GrabComparison): Picture | undefined {
  const { pairs, line } = comparison
  if (pairs.length === 0) return undefined
  const fitted =
    line === undefined
      ? 'no line'
      : `the line has zero ${saySigned(line.zeroNtu.value)} NTU and span ${sayPercent(line.spanRel.value)} %`
  return {
    title: `${analyzer} over grab samples`,
    caption:
      'Each mark is one grab sample with what the analyzer showed for the same water. On the grey line both are equal; ' +
      'beyond the dashed lines they differ by more than the tolerance. ' +
      (line === undefined
        ? ''
        : 'The fitted line takes both for uncertain, each pair by its own uncertainties (York regression). ') +
      (hasBars(comparison) ? 'Bars are twice the standard uncertainty.' : ''),
    legend: [
      { mark: { kind: 'symbol', color: INK, symbol: 'diamond', filled: true }, text: 'grab sample' },
      { mark: { kind: 'line', color: GREY, dash: 'solid' }, text: 'equal' },
      { mark: { kind: 'line', color: INK, dash: 'dashed' }, text: 'tolerance' },
      ...(line === undefined
        ? []
        : [{ mark: { kind: 'line', color: BLUE, dash: 'solid' }, text: 'fitted line' } satisfies LegendEntry]),
    ],
    svg: drawBoth('comparison', `${analyzer} over ${String(pairs.length)} grab samples in NTU: ${fitted}.`, size =>
      option(comparison, size),
    ),
  }
}

function option(comparison: GrabComparison, size: PictureSize): EChartsOption {
  const { pairs, tolerance, line } = comparison
  const bars = hasBars(comparison)
  const reach = bars ? 2 : 0
  const ends = ({ grabNtu, uGrabNtu, analyzerNtu, uAnalyzerNtu }: ComparedPair) => [
    grabNtu - reach * uGrabNtu,
    grabNtu + reach * uGrabNtu,
    analyzerNtu - reach * uAnalyzerNtu,
    analyzerNtu + reach * uAnalyzerNtu,
  ]
  const scale = scaleOf(pairs.flatMap(ends))
  const over = (value: (x: number) => number) => levels(scale, tolerance).map(x => [x, value(x)] as const)
  const dashed = { color: INK, dash: 'dashed', width: 1.5 } as const
  return {
    ...valueAxes(size, { ...scale, name: 'grab sample, NTU' }, { ...scale, name: 'analyzer, NTU' }),
    series: [
      plainLine(
        over(x => x),
        { color: GREY, dash: 'solid', width: 1.5 },
      ),
      plainLine(
        over(x => x + toleranceAt(tolerance, x)),
        dashed,
      ),
      plainLine(
        over(x => x - toleranceAt(tolerance, x)),
        dashed,
      ),
      ...(bars ? [crosses(pairs)] : []),
      {
        type: 'scatter',
        silent: true,
        z: 4,
        symbol: 'diamond',
        symbolSize: bars ? 9 : 5,
        itemStyle: { color: INK },
        data: pairs.map(pair => [pair.grabNtu, pair.analyzerNtu]),
      },
      ...(line === undefined
        ? []
        : [
            plainLine(
              over(x => line.zeroNtu.value + (1 + line.spanRel.value) * x),
              { color: BLUE, dash: 'solid', width: 2.5 },
            ),
          ]),
    ],
  }
}

/** Where the lines are drawn through: both ends, and where the tolerance begins to grow with the level. */
function levels({ min, max }: Scale, { absoluteNtu, relative }: GrabComparison['tolerance']): readonly number[] {
  const bend = relative > 0 ? absoluteNtu / relative : Infinity
  return bend > min && bend < max ? [min, bend, max] : [min, max]
}

/** Uncertainties of both values of each pair. */
function crosses(pairs: readonly ComparedPair[]): CustomSeriesOption {
  return {
    type: 'custom',
    silent: true,
    z: 3,
    clip: true,
    data: pairs.map(pair => [pair.grabNtu, pair.analyzerNtu, 2 * pair.uGrabNtu, 2 * pair.uAnalyzerNtu]),
    encode: { x: 0, y: 1 },
    renderItem: (_parameters, api) => {
      const [x, y, halfX, halfY] = [0, 1, 2, 3].map(column => Number(api.value(column))) as [
        number,
        number,
        number,
        number,
      ]
      const bar = (from: [number, number], to: [number, number]) => {
        const [x1, y1] = api.coord(from)
        const [x2, y2] = api.coord(to)
        return {
          type: 'line',
          shape: { x1: x1!, y1: y1!, x2: x2!, y2: y2! },
          style: { stroke: GREY, lineWidth: 1 },
        } as const
      }
      return { type: 'group', children: [bar([x - halfX, y], [x + halfX, y]), bar([x, y - halfY], [x, y + halfY])] }
    },
  }
}

function hasBars({ pairs }: GrabComparison): boolean {
  return pairs.length <= MOST_BARS
}

import type { EChartsOption, ScatterSeriesOption } from 'echarts'
import type { ComparisonLine, GrabComparison } from '../../core/explainComparison.js'
import { sayPercent, saySigned } from '../say.js'
import { BLUE, drawBoth, INK, type Picture, VERMILION } from './picture.js'
import type { PictureSize } from './pictureSize.js'
import { plainLine, scaleOf, valueAxes } from './valueAxes.js'

/** Zero and span that the grab samples allow together. Undefined without a line. */
export function regionPicture(analyzer: string, { line }: GrabComparison): Picture | undefined {
  if (line === undefined) return undefined
  const told =
    line.told === undefined
      ? 'the range of the water is too narrow to tell them apart'
      : `no error at all lies ${line.told.readsRight ? 'inside' : 'outside'} their joint 95 % region`
  return {
    title: 'Zero and span together',
    caption:
      'Zero and span of a line hang together: where one is set higher the other comes out lower. Inside the edge lie the ' +
      'pairs of both that the grab samples allow with 95 %. The analyzer reads right where zero is 0 and span 0 %. ' +
      'A long slanting region says that they are hardly told apart.',
    legend: [
      { mark: { kind: 'line', color: BLUE, dash: 'solid' }, text: 'joint 95 % region' },
      { mark: { kind: 'symbol', color: BLUE, symbol: 'circle', filled: true }, text: 'fitted line' },
      { mark: { kind: 'symbol', color: VERMILION, symbol: 'rect', filled: false }, text: 'reads right' },
    ],
    svg: drawBoth(
      'region',
      `Zero ${saySigned(line.zeroNtu.value)} NTU and span ${sayPercent(line.spanRel.value)} % of ${analyzer}: ${told}.`,
      size => option(line, size),
    ),
  }
}

function option({ region, zeroNtu, spanRel }: ComparisonLine, size: PictureSize): EChartsOption {
  const edge = [...region, ...region.slice(0, 1)].map(([zero, span]) => [zero, 100 * span] as const)
  return {
    ...valueAxes(
      size,
      { ...scaleOf([0, ...edge.map(([zero]) => zero)]), name: 'zero, NTU' },
      { ...scaleOf([0, ...edge.map(([, span]) => span)]), name: 'span, %' },
    ),
    series: [
      {
        type: 'line',
        data: [],
        silent: true,
        markLine: {
          silent: true,
          symbol: 'none',
          label: { show: false },
          lineStyle: { color: INK, type: 'solid', width: 1 },
          data: [{ xAxis: 0 }, { yAxis: 0 }],
        },
      },
      plainLine(edge, { color: BLUE, dash: 'solid', width: 2 }),
      mark([zeroNtu.value, 100 * spanRel.value], { symbol: 'circle', color: BLUE, filled: true }),
      mark([0, 0], { symbol: 'rect', color: VERMILION, filled: false }),
    ],
  }
}

function mark(
  at: [number, number],
  { symbol, color, filled }: { readonly symbol: string; readonly color: string; readonly filled: boolean },
): ScatterSeriesOption {
  return {
    type: 'scatter',
    silent: true,
    z: 5,
    symbol,
    symbolSize: 10,
    itemStyle: { color: filled ? color : '#fff', borderColor: color, borderWidth: 2 },
    data: [at],
  }
}

import type { EChartsOption } from 'echarts'
import { CustomChart, LineChart, ScatterChart } from 'echarts/charts'
import { GraphicComponent, GridComponent, MarkAreaComponent, MarkLineComponent } from 'echarts/components'
import { init, use } from 'echarts/core'
import { SVGRenderer } from 'echarts/renderers'
import { escapeHtml } from '../markup.js'
import type { PictureSize } from './pictureSize.js'

use([
  CustomChart,
  LineChart,
  ScatterChart,
  GraphicComponent,
  GridComponent,
  MarkAreaComponent,
  MarkLineComponent,
  SVGRenderer,
])

/**
 * Draws a chart as one `<svg>` to stand inside a page: scaled by its viewBox, with a text for those who cannot see
 * it. The same option gives the same bytes.
 * @param id letters and digits, unique in the page: everything referred to inside the picture begins with it
 */
export function renderSvg(id: string, label: string, size: PictureSize, option: EChartsOption): string {
  const chart = init(null, null, { renderer: 'svg', ssr: true, width: size.width, height: size.height })
  try {
    chart.setOption({ animation: false, useUTC: true, ...option })
    return standInPage(chart.renderToSVGString(), id, label, size)
  } finally {
    // A chart that is not disposed of keeps the process alive.
    chart.dispose()
  }
}

function standInPage(svg: string, id: string, label: string, { width, height }: PictureSize): string {
  const head =
    `<svg class="${id.endsWith('n') ? 'narrow' : 'wide'}" role="img" aria-label="${escapeHtml(label)}" ` +
    `viewBox="0 0 ${String(width)} ${String(height)}">`
  return (
    svg
      .replace(/^<svg[^>]*>/, head)
      // Styles for a pointer that hovers, counted on from render to render: a still picture needs none.
      .replace(/<style[^]*?<\/style>/, '')
      .replace(/ class="zr\d+-cls-\d+"/g, '')
      .replace(/ pointer-events="visible"/g, '')
      // The library also numbers its instances, so that two renders would differ.
      .replace(/zr\d+-/g, `${id}-`)
  )
}

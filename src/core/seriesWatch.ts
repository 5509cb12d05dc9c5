import type { SeriesPoint } from './series.js'
import { foldedSeries } from './seriesFolded.js'
import { toldSeries } from './seriesTold.js'
import type { Watch } from './watch.js'

/** Makes points for dashboards while a plant is worked through. The same inputs give the same points, in the same order. */
export function seriesWatch(take: (points: readonly SeriesPoint[]) => void): Watch {
  return {
    folded: (context, point, endMs) => take(foldedSeries(context, point, endMs)),
    told: (state, plant, events) => take(toldSeries(state, plant, events)),
  }
}

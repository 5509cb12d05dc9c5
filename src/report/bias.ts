import type { Explanation } from '../core/explanation.js'
import type { BiasData } from '../model/events.js'
import { parseInstant } from '../model/time.js'
import { liveRecommendation } from './say.js'

type Bias = Omit<BiasData, 'trueAtActionLevels'>

/** A request is revised when it matters; between revisions its numbers stand still while the bias may move on. */
const MOVED_OF_TOLERANCE = 0.1

/** The bias at the time of the page; the one of the request where the status tells none. */
export function biasNow(explanation: Explanation): Bias | undefined {
  return explanation.status.bias ?? liveRecommendation(explanation)?.bias
}

/** The bias of the request, and when it was known, where the present one has moved away from it. */
export function biasAsAsked(explanation: Explanation): { readonly bias: Bias; readonly known: string } | undefined {
  const live = liveRecommendation(explanation)
  const now = explanation.status.bias
  if (live?.bias === undefined || now === undefined) return undefined
  const moved = Math.abs(now.ofTolerance - live.bias.ofTolerance) >= MOVED_OF_TOLERANCE
  return moved ? { bias: live.bias, known: live.known } : undefined
}

/** Onset of a bias that is asked about or watched; an analyzer with nothing the matter has none to show. */
export function onsetOf(explanation: Explanation): Explanation['onset'] {
  const live = liveRecommendation(explanation)
  if (live?.bias === undefined && explanation.status.assessment !== 'watch') return undefined
  return explanation.onset ?? asInstants(live?.onset)
}

function asInstants(
  onset: { readonly estimate: string; readonly earliest?: string | undefined; readonly latest: string } | undefined,
): Explanation['onset'] {
  if (onset === undefined) return undefined
  const [estimateMs, latestMs] = [parseInstant(onset.estimate), parseInstant(onset.latest)]
  const earliestMs = onset.earliest === undefined ? undefined : parseInstant(onset.earliest)
  if (estimateMs === undefined || latestMs === undefined) return undefined
  return { estimateMs, latestMs, ...(earliestMs === undefined ? {} : { earliestMs }) }
}

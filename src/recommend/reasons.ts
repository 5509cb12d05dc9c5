import type { UnitEstimate } from '../diagnose/estimate.js'
import { FILM_CROSSOVER_NTU } from '../diagnose/hypothesis.js'
import { roundTo } from '../model/rounding.js'
import type { DecisionContext } from './decisionContext.js'
import { weighSign } from './weighSigns.js'

/** Why the causes are ranked as they are: what the levels allow, what signs were seen, what work has shown. */
export function reasonsFor(estimate: UnitEstimate, context: DecisionContext): string[] {
  const because: string[] = []
  const biasNtu = estimate.biasNtu.value
  const waterNtu = Math.max(0, estimate.levelNtu - biasNtu)
  if (estimate.toleranceNtu > 0.3 * waterNtu) {
    const needed = (100 * Math.abs(biasNtu)) / Math.max(1e-9, waterNtu)
    const said = needed > 100 ? 'more than 100' : String(Math.round(needed))
    because.push(`in water of ${say(waterNtu)} NTU a span error would have to be ${said} %, which is hard to believe`)
  }
  if (biasNtu < 0 && waterNtu < FILM_CROSSOVER_NTU)
    because.push('a film on the window does not pull a low reading down')
  because.push(...context.signs.map(sign => weighSign(sign).text))
  if (context.failed.includes('cleaned')) because.push('cleaning did not move the reading, so it is not a film')
  for (const action of context.failed)
    if (action !== 'cleaned') because.push(`the last ${say(action)} did not put it right`)
  if (estimate.who.all > 0.3) {
    because.push('all units of the point may be off together: their agreement proves nothing')
    if (context.commonWork != null) because.push(context.commonWork)
  }
  return because
}

function say(value: number | string): string {
  return typeof value === 'number' ? String(roundTo(value, value < 1 ? 3 : 1)) : value.replaceAll('_', ' ')
}

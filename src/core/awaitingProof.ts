import type { ShiftSummaryData } from '../model/events.js'
import type { Plant } from '../model/plant.js'
import { countOf } from '../recommend/proof.js'
import { proofSentence } from '../recommend/summary.js'
import { pointContext } from './context.js'
import type { PlantState } from './plantState.js'
import { whatSettles } from './verdictData.js'

/** Work whose effect is not known yet, asked for or not, with what would settle it: a reminder in each shift. */
export function awaitingProof(state: PlantState, plant: Plant): ShiftSummaryData['awaitingProof'] {
  return [...state.points.values()].flatMap(point => {
    const registered = plant.points.get(point.id)
    if (registered === undefined) return []
    const context = pointContext(plant, registered, state.laboratory.intervals)
    return context.analyzers.flatMap((analyzer, i) => {
      const unit = point.fold.units[i]
      if (unit?.proof == null) return []
      const { action, workMs } = unit.proof
      const missing = whatSettles(unit.proof, context, unit, analyzer)
      const estimate = unit.case?.kind === 'bias' ? unit.case.estimate : null
      const pairs = countOf(unit.proof)
      return [
        {
          target: { analyzer: analyzer.id },
          summary: proofSentence({ analyzer: analyzer.id, action, workMs, pairs, estimate }),
          missing: [missing],
        },
      ]
    })
  })
}

import type { PlantState } from '../../../src/core/plantState.js'
import { serialisePlant } from '../../../src/core/serialise.js'

/**
 * What the fold says at the end: charts, estimates, cases, pairs, differences, blocks, the laboratory. Left out is
 * what lies outside a rebuild: ids, revisions, times at which something became known, what was published, snapshots.
 */
export function foldText(state: PlantState): Record<string, unknown> {
  const rows = serialisePlant(state)
  const folds = [...state.points.values()].map((point): [string, unknown] => [
    point.id,
    {
      fold: plain(point.fold),
      pairs: plain(point.pairs),
      differences: plain(point.differences),
      blocks: rows.get(`blocks ${point.id}`),
    },
  ])
  return { laboratory: plain(state.laboratory), ...Object.fromEntries(folds) }
}

/** The whole state as it would be stored. */
export function stateText(state: PlantState): string {
  return [...serialisePlant(state)].map(([key, text]) => `${key}\n${text}\n`).join('')
}

function plain(value: unknown): unknown {
  return JSON.parse(JSON.stringify(value)) as unknown
}

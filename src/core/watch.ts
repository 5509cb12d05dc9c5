import type { PlantEvent } from '../model/events.js'
import type { Plant } from '../model/plant.js'
import type { PointContext } from './context.js'
import type { PlantState } from './plantState.js'
import type { PointState } from './pointState.js'

/**
 * Looks on while a plant is worked through, for whoever keeps a record of its own such as a dashboard's database. It
 * sees each instant as it is left, however many one tick works through, and must change nothing.
 */
export interface Watch {
  /** The block of a point that ends at an instant is folded, and again whenever a late fact has it folded anew. */
  readonly folded: (context: PointContext, point: PointState, endMs: number) => void
  /** An instant is through, and these events were told at it. */
  readonly told: (state: PlantState, plant: Plant, events: readonly PlantEvent[]) => void
}

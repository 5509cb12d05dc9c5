import { type ChartBudgetRow, chartBudgetRow } from './chartBudget.js'
import { type ChartDelayRow, chartDelayRows } from './chartDelay.js'
import type { ChartCell, Knowledge } from './chartScenario.js'
import { type FleetVerdict, judgeFleet } from './cases.js'
import { faultFleet, type Sound, soundFleet } from './grid.js'
import { type RivalRow, rivalRows } from './rivalRows.js'

/** One piece of the benchmark, small enough to be handed to a worker. */
export type Task =
  | { readonly part: 'delay' | 'rivals'; readonly firstSeed: number; readonly runs: number; readonly cell: ChartCell }
  | {
      readonly part: 'budget'
      readonly firstSeed: number
      readonly runs: number
      readonly cell: ChartCell
      readonly knowledge: Knowledge
    }
  | { readonly part: 'sound'; readonly seed: number; readonly sound: Sound }
  | { readonly part: 'faults'; readonly firstSeed: number; readonly cell: number; readonly round: number }

/** What comes of the tasks of each part. */
export interface Results {
  readonly delay: readonly ChartDelayRow[]
  readonly budget: readonly ChartBudgetRow[]
  readonly rivals: readonly RivalRow[]
  readonly sound: readonly (FleetVerdict & { readonly sound: Sound })[]
  readonly faults: readonly FleetVerdict[]
}

export type Part = keyof Results

export function runTask(task: Task): Results[Part] {
  switch (task.part) {
    case 'delay':
      return chartDelayRows(task.firstSeed, task.runs, task.cell)
    case 'budget':
      return [chartBudgetRow(task.firstSeed, task.runs, task.cell, task.knowledge)]
    case 'rivals':
      return rivalRows(task.firstSeed, task.runs, task.cell)
    case 'sound':
      return [{ sound: task.sound, ...judgeFleet(soundFleet(task.seed, task.sound)) }]
    case 'faults':
      return [judgeFleet(faultFleet(task.firstSeed, task.cell, task.round))]
  }
}

// How well the decisions hold against truth: false openings, delays beside the best chart there could be, which unit, how
// large, since when and why, each with its interval. Seeded; it counts, so any machine gives the same figures.
// One JSON object for each result on standard output, tables on standard error.
// usage: npm run bench:detection -- [first seed, default 101] [rounds, 1 to 11, default 11] [part …]
//   parts: delay budget rivals (charts alone), sound faults (the whole core); default all
import { availableParallelism } from 'node:os'
import { isMainThread, parentPort, Worker, workerData } from 'node:worker_threads'
import { BUDGET_CELLS } from './chartBudget.js'
import { CHART_CELLS } from './chartScenario.js'
import { chartBudgetTable, chartDelayTable, rivalTable } from './chartTables.js'
import { faultTables } from './faultTables.js'
import { SOUND } from './grid.js'
import { soundTable } from './soundTable.js'
import { type Part, type Results, runTask, type Task } from './tasks.js'

const PARTS = ['delay', 'budget', 'rivals', 'sound', 'faults'] as const
/** With all rounds: runs of each chart, plants without fault (4.9 analyzer-years each) of each kind. */
const FULL = { rounds: 11, chartRuns: 200, soundFleets: 41 } as const

async function main(): Promise<void> {
  const [first, all, ...named] = process.argv.slice(2)
  const [firstSeed, rounds] = [Number(first ?? 101), Number(all ?? FULL.rounds)]
  if (!Number.isInteger(firstSeed) || !(rounds >= 1 && rounds <= FULL.rounds))
    throw new RangeError('usage: bench:detection -- [first seed] [rounds, 1 to 11] [part …]')
  const parts = PARTS.filter(part => named.length === 0 || named.includes(part))
  const results: Record<Part, unknown[]> = { delay: [], budget: [], rivals: [], sound: [], faults: [] }
  await inWorkers(
    parts.flatMap(part => tasksOf(part, firstSeed, rounds)),
    (task, found) => {
      results[task.part].push(...found)
      for (const one of found) process.stdout.write(`${JSON.stringify({ part: task.part, ...(one as object) })}\n`)
    },
  )
  for (const part of parts) process.stderr.write(`${tables(part, results as unknown as Results)}\n`)
}

function tasksOf(part: Part, firstSeed: number, rounds: number): Task[] {
  const share = rounds / FULL.rounds
  const runs = Math.ceil(FULL.chartRuns * share)
  switch (part) {
    case 'delay':
      return CHART_CELLS.map(cell => ({ part, firstSeed, runs, cell }))
    case 'budget':
      return BUDGET_CELLS.flatMap(cell =>
        (['known', 'learnt'] as const).map(knowledge => ({ part, firstSeed, runs, cell, knowledge })),
      )
    case 'rivals':
      return [{ part, firstSeed, runs, cell: { line: 'grab', s: 3, perDay: 2 } }]
    case 'sound':
      return Array.from({ length: Math.ceil(FULL.soundFleets * share) }, (_, k) =>
        SOUND.map(sound => ({ part, seed: firstSeed + k, sound })),
      ).flat()
    case 'faults':
      return Array.from({ length: 9 * rounds }, (_, k) => ({ part, firstSeed, cell: k % 9, round: Math.floor(k / 9) }))
  }
}

function tables(part: Part, results: Results): string {
  switch (part) {
    case 'delay':
      return chartDelayTable(results.delay)
    case 'budget':
      return chartBudgetTable(results.budget)
    case 'rivals':
      return rivalTable(results.rivals)
    case 'sound':
      return soundTable(results.sound)
    case 'faults':
      return faultTables(results.faults)
  }
}

/** One worker for each processor; the order of what is found depends on the seeds alone. */
async function inWorkers(tasks: readonly Task[], done: (task: Task, found: unknown[]) => void): Promise<void> {
  const waiting = tasks.map((task, index) => ({ task, index }))
  const found: unknown[][] = []
  let told = 0
  const work = async (): Promise<void> => {
    for (let job = waiting.shift(); job !== undefined; job = waiting.shift()) {
      const { task, index } = job
      found[index] = await new Promise<unknown[]>((resolve, reject) => {
        new Worker(new URL(import.meta.url), { workerData: task }).once('message', resolve).once('error', reject)
      })
      for (; found[told] !== undefined; told++) done(tasks[told]!, found[told]!)
    }
  }
  await Promise.all(Array.from({ length: availableParallelism() }, work))
}

if (isMainThread) await main()
else parentPort?.postMessage(runTask(workerData as Task))

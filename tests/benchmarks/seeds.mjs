// Many invented plants, each with other dates, sizes and noise: how many faults are found, how early, with what cause,
// and how much is opened that nothing justifies. Counts alone: nothing here depends on how fast the machine is.
// usage: npm run bench:seeds -- [number of seeds, default 10] [first seed, default 1]
import { availableParallelism } from 'node:os'
import { isMainThread, parentPort, Worker, workerData } from 'node:worker_threads'
import { textTable } from '../../dist/report/terminal/textTable.js'
import { scoreRun, truthTable } from '../../dist/report/truthTable.js'
import { runSeed } from './runSeed.mjs'

async function main() {
  const [count, first] = [Number(process.argv[2] ?? 10), Number(process.argv[3] ?? 1)]
  if (!(count >= 1) || !Number.isInteger(first)) throw new RangeError('usage: bench:seeds -- [number] [first seed]')
  const seeds = Array.from({ length: count }, (_, i) => first + i)
  const results = []
  const work = async () => {
    for (let seed = seeds.shift(); seed !== undefined; seed = seeds.shift()) {
      const result = await inWorker(seed)
      results.push(result)
      process.stdout.write(`${JSON.stringify(result)}\n`)
    }
  }
  await Promise.all(Array.from({ length: Math.min(count, availableParallelism()) }, work))
  results.sort((a, b) => a.seed - b.seed)
  process.stderr.write(`${table(results)}\n`)
}

function scoreSeed(seed) {
  const { events, truth } = runSeed(seed)
  const { rows, falseOpenings } = truthTable(events, truth)
  return {
    seed,
    ...scoreRun(events, truth),
    notOk: rows.filter(row => row.verdict !== 'ok').map(({ fault, verdict, got }) => ({ fault, verdict, got })),
    opened: falseOpenings.map(({ time, data }) => ({ time, action: data.action, summary: data.summary })),
  }
}

function inWorker(seed) {
  return new Promise((resolve, reject) => {
    new Worker(new URL(import.meta.url), { workerData: seed }).once('message', resolve).once('error', reject)
  })
}

const SUMMED = [
  'faults',
  'found',
  'passing',
  'beforeTolerance',
  'rightCause',
  'rows',
  'rowsOk',
  'falseOpenings',
  'analyzerYears',
]

function table(results) {
  const total = Object.fromEntries(SUMMED.map(key => [key, results.reduce((sum, result) => sum + result[key], 0)]))
  const columns = [
    { head: 'seed', width: 5 },
    { head: 'found', width: 8 },
    { head: 'before tolerance', width: 9 },
    { head: 'right cause', width: 8 },
    { head: 'rows as they should be', width: 10 },
    { head: 'false openings', width: 8 },
    { head: 'analyzer-years', width: 9 },
  ]
  const cells = (name, r) => [
    name,
    `${r.found}/${r.faults}`,
    `${r.beforeTolerance}/${r.passing}`,
    `${r.rightCause}/${r.faults}`,
    `${r.rowsOk}/${r.rows}`,
    String(r.falseOpenings),
    r.analyzerYears.toFixed(2),
  ]
  return textTable(columns, [...results.map(result => cells(String(result.seed), result)), cells('all', total)])
}

if (isMainThread) await main()
else parentPort.postMessage(scoreSeed(workerData))

// What the core costs, as a ratio to a loop that reads the same lines and parses them as JSON and nothing else: ratios
// hold on any machine, readings a second do not. And what its state weighs after sixty days, and how many lines could
// have been taken in the time in which the evidence of one point is weighed once.
// usage: npm run bench:throughput
import { fileURLToPath } from 'node:url'
import { readNdjson } from '../../dist/adapters/ndjson.js'
import { readRegisterFile } from '../../dist/adapters/registerFile.js'
import { pointContext } from '../../dist/core/context.js'
import { hypothesesOf } from '../../dist/core/explainHypotheses.js'
import { registerMessage } from '../../dist/core/registerInput.js'
import { eventLine } from '../../dist/cli/engine.js'
import { PLANT_CORE } from '../../dist/service/plantCore.js'
import { createReplay } from '../../dist/service/replay.js'

const ROUNDS = 3
const WEIGHINGS = 20
const path = name => fileURLToPath(new URL(`../../sample-streams/${name}`, import.meta.url))
const register = await readRegisterFile(path('register.yaml'))
if (!register.ok) throw new Error(register.problems.join('\n'))

const bare = []
const full = []
let lines = 0
let state
// In turns, so that a busy moment of the machine falls on both; the best of each is compared.
for (let round = 0; round < ROUNDS; round++) {
  bare.push(
    await timed(async () => {
      lines = 0
      await readNdjson(path('stream.ndjson.gz'), 'file', { input: () => lines++ })
    }),
  )
  full.push(
    await timed(async () => {
      let bytes = 0
      const replay = createReplay({
        core: PLANT_CORE,
        register: { plant: register.file.plant, message: registerMessage(register.file) },
        ticks: 'event',
        event: event => (bytes += eventLine(event).length),
        rejected: () => {},
      })
      await readNdjson(path('stream.ndjson.gz'), 'file', { input: (input, line) => replay.take(input, 'file', line) })
      state = replay.finish()
    }),
  )
}
const [parseS, replayS] = [Math.min(...bare), Math.min(...full)]
const { plant } = state.register
const analyzers = plant.analyzers.size
const contexts = [...plant.points.values()].map(point => pointContext(plant, point, state.laboratory.intervals))
const weighing = []
for (let round = 0; round < WEIGHINGS; round++) {
  weighing.push(
    await timed(() => {
      for (const context of contexts) hypothesesOf(context, state.points.get(context.point.id), state.workedMs)
    }),
  )
}
const weighingS = Math.min(...weighing) / contexts.length
const weight = { plant: 0, points: 0, blocks: 0 }
for (const [key, text] of PLANT_CORE.serialise(state)) {
  weight[key === 'plant' ? 'plant' : key.startsWith('blocks ') ? 'blocks' : 'points'] += Buffer.byteLength(text)
}
process.stdout.write(
  `${JSON.stringify({
    lines,
    linesPerSecondParsedOnly: Math.round(lines / parseS),
    linesPerSecondReplayed: Math.round(lines / replayS),
    ratio: Number((parseS / replayS).toFixed(3)),
    linesPerWeighing: Math.round(weighingS / (replayS / lines)),
    analyzers,
    bytesPerAnalyzer: {
      chartsAndEvidence: Math.round(weight.points / analyzers),
      blocksOfTenDays: Math.round(weight.blocks / analyzers),
      plantRow: Math.round(weight.plant / analyzers),
    },
  })}\n`,
)

async function timed(run) {
  const startMs = performance.now()
  await run()
  return (performance.now() - startMs) / 1_000
}

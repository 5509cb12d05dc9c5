import { spawn } from 'node:child_process'
import { createInterface } from 'node:readline'
import { onTestFailed, onTestFinished } from 'vitest'
import { MAIN } from '../faults/built.js'
import { eventually } from '../support/eventually.js'

export interface TurbidriftProcess {
  /** Lines of its log, and what else it said on standard error. */
  readonly said: readonly string[]
  /** Resolves when a line of its log says so. */
  readonly says: (sentence: string) => Promise<void>
  /** @returns its exit code */
  readonly ended: () => Promise<number | null>
  readonly end: (signal: 'SIGTERM' | 'SIGKILL') => Promise<number | null>
}

/** Runs a command; what is left of it at the end of the test is killed, and what it said shown where that failed. */
export function runTurbidrift(...args: readonly string[]): TurbidriftProcess {
  const child = spawn(process.execPath, [MAIN, ...args], { stdio: ['ignore', 'ignore', 'pipe'] })
  const said: string[] = []
  createInterface({ input: child.stderr }).on('line', line => said.push(line))
  const isOver = () => child.exitCode !== null || child.signalCode !== null
  onTestFinished(() => void child.kill('SIGKILL'))
  onTestFailed(() => console.error(args[0], said.slice(-25).join('\n')))
  const ended = async () => {
    await eventually(`${args[0]!} ends`, isOver)
    return child.exitCode
  }
  return {
    said,
    says: sentence =>
      eventually(sentence, () => {
        if (isOver()) throw new Error(`it ended: ${said.slice(-5).join('\n')}`)
        return said.some(line => line.includes(sentence))
      }),
    ended,
    end: async signal => {
      child.kill(signal)
      return ended()
    },
  }
}

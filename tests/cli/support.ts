import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll } from 'vitest'
import { buildProgram } from '../../src/cli/program.js'
import type { Terminal } from '../../src/cli/terminal.js'

export interface Ran {
  readonly code: number
  readonly out: string
  readonly told: string
}

/** Runs a command line in this process. @param answers what a person types, in order; without them nobody is there */
export async function run(args: readonly string[], answers?: readonly string[]): Promise<Ran> {
  let out = ''
  let told = ''
  const waiting = [...(answers ?? [])]
  const terminal: Terminal = {
    out: text => (out += text),
    tell: text => (told += `${text}\n`),
    outIsTerminal: answers !== undefined,
    tellIsTerminal: false,
    ask: answers === undefined ? undefined : async () => waiting.shift() ?? '',
  }
  const code = await buildProgram(terminal).run(args)
  return { code, out, told }
}

/** A folder that is gone after the tests of a file, and a way to put files in it. */
export function scratch(): {
  readonly path: (name: string) => string
  readonly put: (name: string, text: string) => string
} {
  const folder = mkdtempSync(join(tmpdir(), 'turbidrift-'))
  afterAll(() => rmSync(folder, { recursive: true }))
  const path = (name: string): string => join(folder, name)
  return {
    path,
    put: (name, text) => {
      writeFileSync(path(name), text)
      return path(name)
    },
  }
}

export const REGISTER = `plant: hollin-weir
name: Hollin Weir Water Works
timeZone: Europe/London
points:
  FE3:
    lowIsWorse: true
    grab: { perDay: 4 }
    analyzers:
      FE3-A: { unit: NTU, intervalS: 300 }
      FE3-B: { unit: NTU, intervalS: 300 }
  RW:
    tolerance: { absoluteNtu: 1, relative: 0.1 }
    analyzers:
      RW-A: { unit: NTU, intervalS: 300 }
`

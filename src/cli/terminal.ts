import { createInterface } from 'node:readline/promises'

/** Where a command writes and asks; tests hand in one of their own. */
export interface Terminal {
  /** Result: what a machine reads, or the table of a person. */
  readonly out: (text: string) => void
  /** Progress, warnings and problems. */
  readonly tell: (text: string) => void
  readonly outIsTerminal: boolean
  readonly tellIsTerminal: boolean
  /** Asks for one line; undefined where nobody is there to answer. */
  readonly ask: ((question: string) => Promise<string>) | undefined
}

/** Exit codes of every command; `--help` shows them. */
export const EXIT = {
  ok: 0,
  /** Input, register or store refused: what and why stands on standard error. */
  refused: 1,
  /** The command line itself was wrong. */
  usage: 2,
  /** Nothing found under the name, or at the time, that was asked for. */
  notFound: 3,
} as const

export const EXIT_HELP = `
Exit codes:
  0  done
  1  input, register or store refused; the reasons stand on standard error
  2  wrong use of the command line
  3  nothing found under that name or time`

export function processTerminal(): Terminal {
  const { stdin, stdout, stderr } = process
  return {
    out: text => void stdout.write(text),
    tell: text => void stderr.write(`${text}\n`),
    outIsTerminal: stdout.isTTY,
    tellIsTerminal: stderr.isTTY,
    ask: stdin.isTTY ? askLine : undefined,
  }
}

async function askLine(question: string): Promise<string> {
  const lines = createInterface({ input: process.stdin, output: process.stderr })
  try {
    return (await lines.question(question)).trim()
  } finally {
    lines.close()
  }
}

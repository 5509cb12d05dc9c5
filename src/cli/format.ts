import { Option } from 'commander'
import { canonicalJson } from '../model/canonicalJson.js'
import type { Terminal } from './terminal.js'

export type Format = 'table' | 'ndjson'

export function formatOption(): Option {
  return new Option('--format <form>', 'table for people, ndjson for machines; default: table on a terminal').choices([
    'table',
    'ndjson',
  ])
}

export function formatFor(terminal: Terminal, chosen: Format | undefined): Format {
  return chosen ?? (terminal.outIsTerminal ? 'table' : 'ndjson')
}

/** One line of NDJSON, in canonical form. */
export function outJson(terminal: Terminal, value: unknown): void {
  terminal.out(`${canonicalJson(value)}\n`)
}

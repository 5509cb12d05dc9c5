import { InvalidArgumentError } from 'commander'
import { parseInstant } from '../model/time.js'
import { type MetricsAddress, parseMetricsAddress } from '../service/metricsServer.js'

/** Reads a whole number inside bounds from the command line. */
export function wholeNumber(least: number, most = Number.MAX_SAFE_INTEGER): (text: string) => number {
  return text => {
    const value = /^-?\d{1,16}$/.test(text) ? Number(text) : Number.NaN
    if (value >= least && value <= most) return value
    const upper = most === Number.MAX_SAFE_INTEGER ? '' : ` to ${String(most)}`
    throw new InvalidArgumentError(`must be a whole number from ${String(least)}${upper}.`)
  }
}

/** Reads a number above zero. */
export function positiveNumber(text: string): number {
  const value = /^\d{1,9}(\.\d{1,9})?$/.test(text) ? Number(text) : Number.NaN
  if (value > 0) return value
  throw new InvalidArgumentError('must be a number above 0.')
}

/** Reads a number of 0 or more. */
export function notNegative(text: string): number {
  if (/^\d{1,9}(\.\d{1,9})?$/.test(text)) return Number(text)
  throw new InvalidArgumentError('must be a number of 0 or more.')
}

/** Reads an RFC 3339 time, as milliseconds. */
export function instantArgument(text: string): number {
  const atMs = parseInstant(text)
  if (atMs !== undefined) return atMs
  throw new InvalidArgumentError('must be a time with offset, such as 2026-05-09T10:15:00Z.')
}

/** Reads where metrics are to be served: HOST:PORT, or a port alone. */
export function metricsAddress(text: string): MetricsAddress {
  const address = parseMetricsAddress(text)
  if (address !== undefined) return address
  throw new InvalidArgumentError('must be HOST:PORT such as 127.0.0.1:9464, or a port alone.')
}

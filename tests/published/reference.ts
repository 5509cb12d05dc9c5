import { readFileSync } from 'node:fs'
import { expect } from 'vitest'

/** One reference value: what goes in, what must come out, and how close. See reference/README.md. */
export interface ReferenceEntry<Input, Expected> {
  readonly id: string
  readonly source: { readonly software: string; readonly version: string; readonly call: string }
  readonly input: Input
  readonly expected: Expected
  readonly tolerance: { readonly relative?: number; readonly absolute?: number }
  readonly evidence?: { readonly own?: number; readonly agreesToPrintedDigits?: boolean }
}

export function readReference<Input, Expected>(name: string): readonly ReferenceEntry<Input, Expected>[] {
  const text = readFileSync(new URL(`./reference/${name}.json`, import.meta.url), 'utf8')
  return (JSON.parse(text) as { entries: ReferenceEntry<Input, Expected>[] }).entries
}

/** Passes when |got − expected| ≤ max(absolute, relative · |expected|). */
export function expectWithin(
  got: number,
  expected: number,
  tolerance: { readonly relative?: number; readonly absolute?: number },
  label: string,
): void {
  const allowed = Math.max(tolerance.absolute ?? 0, (tolerance.relative ?? 0) * Math.abs(expected))
  const close = got === expected || Math.abs(got - expected) <= allowed
  expect(close, `${label}: got ${got}, expected ${expected} ± ${allowed}`).toBe(true)
}

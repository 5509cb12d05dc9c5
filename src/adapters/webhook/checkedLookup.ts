import { lookup, type LookupAddress, type LookupAllOptions } from 'node:dns'
import type { LookupFunction } from 'node:net'

export type ResolveAll = (
  host: string,
  options: LookupAllOptions,
  done: (error: NodeJS.ErrnoException | null, addresses: LookupAddress[]) => void,
) => void

/**
 * A look-up for a connection that hands on checked addresses only. The check is on what is connected to: a name that
 * was harmless when it was looked at, and leads elsewhere a moment later, is caught. Node asks for no look-up where the
 * host is an address already: those are to be checked before.
 */
export function checkedLookup(
  problemOf: (address: string) => string | undefined,
  resolveAll: ResolveAll = lookup,
): LookupFunction {
  return (host, options, done) => {
    resolveAll(host, { ...options, all: true }, (error, addresses) => {
      if (error !== null) {
        done(error, [])
        return
      }
      const checked = addresses.filter(({ address }) => problemOf(address) === undefined)
      const first = checked[0]
      if (first === undefined) {
        const problems = addresses.map(({ address }) => problemOf(address)).join('; ')
        done(new Error(`${host} leads to no address that events may be sent to: ${problems}`), [])
      } else if (options.all === true) done(null, checked)
      else done(null, first.address, first.family)
    })
  }
}

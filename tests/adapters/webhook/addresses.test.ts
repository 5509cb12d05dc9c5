import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { addressProblem } from '../../../src/adapters/webhook/addresses.js'

/** IANA IPv4 and IPv6 special-purpose address registries (RFC 6890), and the RFC each block is from. */
const OWN_NETWORK = [
  ['10.0.0.0', '10.255.255.255', 'RFC 1918'],
  ['172.16.0.0', '172.31.255.255', 'RFC 1918'],
  ['192.168.0.0', '192.168.255.255', 'RFC 1918'],
  ['100.64.0.0', '100.127.255.255', 'RFC 6598'],
  ['127.0.0.0', '127.255.255.255', 'RFC 1122'],
  ['169.254.0.0', '169.254.255.255', 'RFC 3927'],
  ['::1', '::1', 'RFC 4291'],
  ['fc00::', 'fdff:ffff:ffff:ffff:ffff:ffff:ffff:ffff', 'RFC 4193'],
  ['fe80::1', 'febf:ffff:ffff:ffff:ffff:ffff:ffff:ffff', 'RFC 4291'],
] as const

const NOBODY = [
  ['0.0.0.0', '0.255.255.255', 'RFC 1122'],
  ['192.0.0.0', '192.0.0.255', 'RFC 6890'],
  ['192.0.2.0', '192.0.2.255', 'RFC 5737'],
  ['198.51.100.0', '198.51.100.255', 'RFC 5737'],
  ['203.0.113.0', '203.0.113.255', 'RFC 5737'],
  ['192.88.99.0', '192.88.99.255', 'RFC 7526'],
  ['198.18.0.0', '198.19.255.255', 'RFC 2544'],
  ['224.0.0.0', '239.255.255.255', 'RFC 5771'],
  ['240.0.0.0', '255.255.255.255', 'RFC 1112'],
  ['::', '::', 'RFC 4291'],
  ['64:ff9b:1::', '64:ff9b:1:ffff:ffff:ffff:ffff:ffff', 'RFC 8215, as RFC 4291'],
  ['100::', '100::ffff:ffff:ffff:ffff', 'RFC 6666, as RFC 4291'],
  ['2001::', '2001:1ff:ffff:ffff:ffff:ffff:ffff:ffff', 'RFC 2928'],
  ['2001:db8::', '2001:db8:ffff:ffff:ffff:ffff:ffff:ffff', 'RFC 3849'],
  ['2002::', '2002:ffff:ffff:ffff:ffff:ffff:ffff:ffff', 'RFC 3056'],
  ['3fff::', '3fff:fff:ffff:ffff:ffff:ffff:ffff:ffff', 'RFC 9637'],
  ['5f00::', '5f00:ffff:ffff:ffff:ffff:ffff:ffff:ffff', 'RFC 9602, as RFC 4291'],
  ['fec0::', 'feff:ffff:ffff:ffff:ffff:ffff:ffff:ffff', 'RFC 3879, as RFC 4291'],
  ['ff00::', 'ffff:ffff:ffff:ffff:ffff:ffff:ffff:ffff', 'RFC 4291'],
] as const

/** Next to the blocks above, or anywhere else. */
const PUBLIC = [
  ...['9.255.255.255', '11.0.0.0', '172.15.255.255', '172.32.0.0', '192.167.255.255', '192.169.0.0', '100.63.255.255'],
  ...['100.128.0.0', '126.255.255.255', '128.0.0.0', '169.253.255.255', '169.255.0.0', '1.0.0.0', '192.0.1.0'],
  ...['192.0.3.0', '198.17.255.255', '198.20.0.0', '223.255.255.255', '2001:200::1', '2001:db7::1', '2001:db9::1'],
  ...['2000::1', '2003::1', '3ffe::1', '64:ff9b::0b00:0001', '::ffff:11.0.0.1'],
]

describe('addresses events may be sent to', () => {
  it.each(OWN_NETWORK)('are none from %s to %s unless wanted (%s)', (first, last, rfc) => {
    for (const address of [first, last]) {
      expect(addressProblem(address, false)).toContain(rfc)
      expect(addressProblem(address, true)).toBeUndefined()
    }
  })

  it.each(NOBODY)('are never from %s to %s (%s)', (first, last, rfc) => {
    for (const address of [first, last]) {
      for (const allowed of [false, true]) expect(addressProblem(address, allowed)).toContain(rfc.split('as ').at(-1))
    }
  })

  it.each(PUBLIC)('are those such as %s', address => {
    expect(addressProblem(address, false)).toBeUndefined()
  })

  it('judge an IPv4 address alike as itself, mapped into IPv6 (RFC 4291) and behind NAT64 (RFC 6052)', () => {
    const octet = fc.oneof(fc.constantFrom(0, 10, 100, 127, 169, 172, 192, 198, 224), fc.nat({ max: 255 }))
    const said = (text: string, allowed: boolean) => addressProblem(text, allowed)?.replace(/^\S+/, '')
    fc.assert(
      fc.property(fc.tuple(octet, octet, octet, octet), fc.boolean(), (octets, allowed) => {
        const dotted = octets.join('.')
        const hex = (a: number, b: number) => (octets[a]! * 256 + octets[b]!).toString(16)
        const expected = said(dotted, allowed)
        for (const prefix of ['::ffff:', '64:ff9b::']) {
          expect(said(`${prefix}${dotted}`, allowed)).toBe(expected)
          expect(said(`${prefix}${hex(0, 1)}:${hex(2, 3)}`, allowed)).toBe(expected)
        }
      }),
      { seed: 7, numRuns: 2_000 },
    )
  })

  it('have no zone to hide behind, and are addresses', () => {
    expect(addressProblem('fe80::1%eth0', false)).toContain('link-local')
    expect(addressProblem('localhost', true)).toBe('localhost is no IP address')
    expect(addressProblem('', true)).toContain('no IP address')
  })
})

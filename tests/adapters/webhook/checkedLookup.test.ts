import type { LookupAddress, LookupOptions } from 'node:dns'
import { afterEach, describe, expect, it } from 'vitest'
import { addressProblem } from '../../../src/adapters/webhook/addresses.js'
import { checkedLookup, type ResolveAll } from '../../../src/adapters/webhook/checkedLookup.js'
import { createPoster } from '../../../src/adapters/webhook/post.js'
import { startReceiver } from '../../support/webhookReceiver.js'

const PUBLIC = { address: '11.22.33.44', family: 4 }
const LOOPBACK = { address: '127.0.0.1', family: 4 }
const MAPPED = { address: '::ffff:10.1.2.3', family: 6 }

const onlyPublic = (address: string) => addressProblem(address, false)

describe('look-up that hands on checked addresses only', () => {
  it('leaves out what is not public, whether one address is asked for or all', async () => {
    const lookup = checkedLookup(onlyPublic, answers([LOOPBACK, PUBLIC, MAPPED]))
    expect(await ask(lookup, { all: true })).toEqual([[PUBLIC], undefined])
    expect(await ask(lookup, {})).toEqual([PUBLIC.address, 4])
    expect(await ask(lookup, { family: 4 })).toEqual([PUBLIC.address, 4])
  })

  it('fails, and says why, where nothing is left', async () => {
    const lookup = checkedLookup(onlyPublic, answers([LOOPBACK, MAPPED]))
    await expect(ask(lookup, { all: true })).rejects.toThrow(
      'hooks.example leads to no address that events may be sent to: 127.0.0.1 is loopback, RFC 1122; ' +
        '::ffff:10.1.2.3 is private, RFC 1918',
    )
  })

  it('hands on the error of a name that is not known', async () => {
    const unknown: ResolveAll = (_host, _options, done) => done(new Error('ENOTFOUND'), [])
    await expect(ask(checkedLookup(onlyPublic, unknown), {})).rejects.toThrow('ENOTFOUND')
  })

  it('finds loopback behind localhost with the resolver of this machine', async () => {
    await expect(ask(checkedLookup(onlyPublic), {}, 'localhost')).rejects.toThrow('loopback')
  })
})

describe('a name that changes its answer', () => {
  const open: (() => Promise<void> | void)[] = []
  afterEach(async () => {
    for (const close of open.splice(0)) await close()
  })

  it('does not lead to an address that was not checked', async () => {
    // Two loopback addresses stand for a public and a private one: a test sends nothing beyond this machine.
    const outside = await startReceiver(() => ({ status: 200, headers: { connection: 'close' } }), {
      host: '127.0.0.2',
    })
    const inside = await startReceiver(() => 200, { port: outside.port })
    const asked: string[] = []
    const lookup = checkedLookup(
      address => (address === '127.0.0.1' ? `${address} is private` : undefined),
      (host, _options, done) => {
        asked.push(host)
        done(null, [asked.length === 1 ? { address: '127.0.0.2', family: 4 } : LOOPBACK])
      },
    )
    const url = `http://hooks.example:${outside.port}/hook`
    const poster = createPoster({ url, tls: undefined, lookup, timeoutMs: 20_000 })
    open.push(outside.stop, inside.stop, poster.close)
    expect((await poster.post({}, 'one')).status).toBe(200)
    await expect(poster.post({}, 'two')).rejects.toThrow('127.0.0.1 is private')
    expect(asked).toEqual(['hooks.example', 'hooks.example'])
    expect(outside.received.map(({ body }) => body)).toEqual(['one'])
    expect(inside.connections()).toBe(0)
  })
})

function answers(addresses: LookupAddress[]): ResolveAll {
  return (_host, _options, done) => done(null, addresses)
}

function ask(lookup: ReturnType<typeof checkedLookup>, options: LookupOptions, host = 'hooks.example') {
  return new Promise((resolve, reject) => {
    lookup(host, options, (error, address, family) => {
      if (error === null) resolve([address, family])
      else reject(error)
    })
  })
}

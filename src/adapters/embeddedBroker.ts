import { Buffer } from 'node:buffer'
import type { EventEmitter } from 'node:events'
import { createServer, type Server } from 'node:net'
import { Aedes, type PublishPacket } from 'aedes'
import { sayListenError } from './sayListenError.js'

export interface EmbeddedBrokerOptions {
  /** 0 takes a free one. */
  readonly port: number
  /** Topics that begin with one of these are the service's own: a client that publishes there is disconnected. */
  readonly reserved: readonly string[]
  /**
   * A client published something. `release` lets the broker acknowledge it; the sender must not be told that it is
   * safe before it is. A publish that is not for the service is released at once by its answer `false`.
   */
  readonly onPublish: (topic: string, payload: Buffer, release: () => void) => boolean
  readonly clientsChanged: (connected: number) => void
  /** A client was sent away or broke off. @param client its id, where it said one */
  readonly clientFailed: (problem: string, client: string | undefined) => void
  /** Something is wrong with the broker itself; it goes on where it can. */
  readonly failed: (error: Error) => void
}

export interface EmbeddedBroker {
  readonly port: number
  readonly publish: (topic: string, body: string, retain: boolean) => Promise<void>
  readonly close: () => Promise<void>
}

export type StartedBroker =
  { readonly ok: true; readonly broker: EmbeddedBroker } | { readonly ok: false; readonly problem: string }

const HOST = '127.0.0.1'
const MAX_CONNECTIONS = 200

/**
 * An MQTT 3.1.1 broker inside the service, on the loopback interface only, without passwords. Sessions, retained
 * messages and queues live in memory: what a sender saw acknowledged is on disk in the service's store, but a
 * subscriber that needs every event even across a restart wants a broker of its own.
 */
export async function startEmbeddedBroker(options: EmbeddedBrokerOptions): Promise<StartedBroker> {
  const aedes = await Aedes.createBroker({
    concurrency: 1_000,
    // A subscriber that stops reading would hold up everybody else for so long.
    drainTimeout: 5_000,
    authorizePublish: (client, packet, done) => authorize(options, packet, client !== null, done),
  })
  aedes.on('client', () => options.clientsChanged(aedes.connectedClients))
  aedes.on('clientDisconnect', () => options.clientsChanged(aedes.connectedClients))
  aedes.on('clientError', (client, error) => options.clientFailed(sayClientError(error), client.id))
  aedes.on('connectionError', (_, error) => options.clientFailed(sayClientError(error), undefined))
  // Its types leave out that it is an emitter of errors.
  ;(aedes as EventEmitter).on('error', options.failed)
  const server = createServer(socket => void aedes.handle(socket))
  server.maxConnections = MAX_CONNECTIONS
  try {
    const port = await listen(server, options.port)
    // For want of file handles, say: nobody new gets in until some are free, those connected stay.
    server.on('error', options.failed)
    server.on('drop', () => options.clientFailed(`more than ${MAX_CONNECTIONS} connections at once`, undefined))
    return {
      ok: true,
      broker: {
        port,
        publish: (topic, body, retain) =>
          new Promise((resolve, reject) => {
            aedes.publish({ cmd: 'publish', topic, payload: body, qos: 1, retain, dup: false }, error => {
              if (error === undefined || (error as unknown) === null) resolve()
              else reject(error)
            })
          }),
        close: () =>
          new Promise(resolve => {
            server.close()
            aedes.close(() => resolve())
          }),
      },
    }
  } catch (error) {
    await new Promise<void>(resolve => {
      aedes.close(resolve)
    })
    return {
      ok: false,
      problem: `the embedded broker cannot listen on ${HOST}:${options.port}: ${sayListenError(error)}`,
    }
  }
}

const CLIENT_PROBLEMS: Readonly<Record<string, string>> = {
  ECONNRESET: 'the connection broke off',
  EPIPE: 'the connection broke off',
  'connect did not arrive in time': 'it connected and said nothing',
  'keep alive timeout': 'nothing was heard of it for one and a half times its keep-alive interval',
}

function sayClientError(error: NodeJS.ErrnoException): string {
  return CLIENT_PROBLEMS[error.code ?? ''] ?? CLIENT_PROBLEMS[error.message] ?? error.message
}

function authorize(
  options: EmbeddedBrokerOptions,
  packet: PublishPacket,
  fromClient: boolean,
  done: (error?: Error | null) => void,
): void {
  const own = options.reserved.find(beginning => packet.topic.startsWith(beginning))
  if (fromClient && own !== undefined) {
    done(new Error(`${own}# is published by the service only`))
    return
  }
  // A retained reading would come again at each subscription, as if it had just been measured.
  packet.retain = false
  const payload = packet.payload
  const bytes = typeof payload === 'string' ? Buffer.from(payload) : payload
  if (!options.onPublish(packet.topic, bytes, () => done(null))) done(null)
}

function listen(server: Server, port: number): Promise<number> {
  return new Promise((resolve, reject) => {
    server.once('error', reject)
    server.listen(port, HOST, () => {
      server.off('error', reject)
      const address = server.address()
      resolve(typeof address === 'object' && address !== null ? address.port : port)
    })
  })
}

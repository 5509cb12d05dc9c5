import { once } from 'node:events'
import { createConnection, createServer } from 'node:net'

/** Loopback ports nobody listens on, all different. Another process may take one before it is used. */
export async function freePorts(count: number): Promise<readonly number[]> {
  const servers = Array.from({ length: count }, () => createServer().listen(0, '127.0.0.1'))
  await Promise.all(servers.map(server => once(server, 'listening')))
  const ports = servers.map(server => {
    const address = server.address()
    if (typeof address !== 'object' || address === null) throw new Error('no port')
    return address.port
  })
  await Promise.all(servers.map(server => once(server.close(), 'close')))
  return ports
}

/** Whether somebody listens on a loopback port. */
export function accepts(port: number): Promise<boolean> {
  return new Promise(resolve => {
    const socket = createConnection(port, '127.0.0.1')
    socket.once('connect', () => {
      socket.destroy()
      resolve(true)
    })
    socket.once('error', () => {
      resolve(false)
    })
  })
}

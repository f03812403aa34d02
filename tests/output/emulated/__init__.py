"""An adapter without hardware: Linux in QEMU, with the real driver of a USB serial adapter that QEMU emulates.

QEMU's usb-serial is an FT232BM behind an xHCI controller: what reaches it has gone through pyserial, the
terminal layer, ftdi_sio, the USB core and a host controller driver as on a real machine. It shows which
settings, breaks and bytes arrive, and in which order. Nothing paces it, so it says nothing about time on a wire.
"""
